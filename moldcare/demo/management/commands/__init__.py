"""Commands of the demo plant."""
