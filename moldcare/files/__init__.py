"""Photos and documents by the hash of their bytes."""
