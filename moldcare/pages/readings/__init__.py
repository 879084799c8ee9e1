"""The round of readings, and readings that are held until somebody decides."""
