"""Opening what a label names: by its code, or by a number that somebody types."""
