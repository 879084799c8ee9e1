"""Commands: each reads the clock once, and calls acts and queries."""
