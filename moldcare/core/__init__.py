"""The pure part: no Django, no clock, no file."""
