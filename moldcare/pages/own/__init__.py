"""What people set for themselves: PIN, password, language, units, light."""
