"""What can be set up: molds and what they are made of, rule sets, counters, readings."""
