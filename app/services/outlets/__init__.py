"""Shops that sell on commission."""
