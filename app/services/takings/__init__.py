"""What was sold, what it left, what the stock was worth, and the books of a year."""
