"""What is in stock: things, lots and movements, offcuts."""
