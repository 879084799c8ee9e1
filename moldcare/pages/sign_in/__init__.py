"""Signing in and off, and signing at a shared tablet with badge and PIN."""
