"""Customers and what they asked for."""
