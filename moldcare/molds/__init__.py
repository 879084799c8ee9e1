"""Molds, what they are made of and where they are."""
