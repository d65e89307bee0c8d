"""Papers, materials, what is here, stocktakes and tables taken in."""
