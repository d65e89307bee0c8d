"""What is sold where: how many may be asked for, how many to take, and labels for them."""
