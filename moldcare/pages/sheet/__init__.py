"""The task sheet: one order, worked through a step at a time on a tablet, and signed."""
