"""Lists and the whole plant, to be saved and taken elsewhere."""
