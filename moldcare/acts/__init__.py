"""What people and feeds do: one function an act, and the only code that writes facts."""
