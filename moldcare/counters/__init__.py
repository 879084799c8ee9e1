"""Counters, readings, and the counts that follow."""
