"""The rule sets that molds begin with, and taking them for many molds at once."""
