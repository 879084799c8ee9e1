"""Files of readings: uploaded, looked at, brought in, what was kept for mending."""
