"""What every page needs: sessions, forms and their fields, the way to send one, filters."""
