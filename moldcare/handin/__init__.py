"""What makes every write happen once."""
