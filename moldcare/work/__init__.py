"""Work orders and their sheets."""
