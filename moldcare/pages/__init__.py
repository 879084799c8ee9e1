"""The web pages and the commands."""
