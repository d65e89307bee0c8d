"""The shop's settings, its numbers, what was sent once."""
