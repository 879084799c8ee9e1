"""Handing a shift over to the next one."""
