"""Interruptions of runs."""
