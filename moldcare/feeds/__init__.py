"""What comes in from outside."""
