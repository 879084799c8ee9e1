"""Documents on paper: each made from plain data, the same input giving the same bytes."""
