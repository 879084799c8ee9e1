"""Pages that say what a mold is and what it is made of."""
