"""The logbook: its list, one entry, corrections, whether a chain is whole, and the month as PDF."""
