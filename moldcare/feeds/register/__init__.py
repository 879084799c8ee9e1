"""A plant's mold register and maintenance sheet, read from files."""
