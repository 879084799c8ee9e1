"""Chains of entries and their seals."""
