"""Markets and what to take to them."""
