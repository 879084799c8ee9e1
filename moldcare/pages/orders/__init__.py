"""Work orders: the list, one order, and what is signed of it."""
