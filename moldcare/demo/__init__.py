"""The demo plant: invented, made through the acts by a simulator that knows the truth."""
