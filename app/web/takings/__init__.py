"""Takings: what was sold, what it left, the stock's worth, and the books of a year."""
