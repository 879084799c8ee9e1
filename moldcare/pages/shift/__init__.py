"""The Shift page and the Wall: what needs a hand, what is due, in which order, and why."""
