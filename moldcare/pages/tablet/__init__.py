"""Tablets without a net: their contact with the server, their pack of pages, what waits on them."""
