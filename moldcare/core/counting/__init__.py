"""Counting: from counter readings to cycles and shots.

`judge` replays one counter's readings and says which are accepted, and its running total.
"""
