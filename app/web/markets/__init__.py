"""Markets and what to take."""
