"""The tests. `python -m tests` runs all of them."""
