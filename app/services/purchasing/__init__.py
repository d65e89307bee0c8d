"""What to buy, from whom, by when; purchases; what to reorder."""
