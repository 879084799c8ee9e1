"""The page of one counter, and the forms to add, fit, exchange and remove counters."""
