"""The plant, its shifts and spots, and its people."""
