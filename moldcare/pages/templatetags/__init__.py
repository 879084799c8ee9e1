"""What templates say."""
