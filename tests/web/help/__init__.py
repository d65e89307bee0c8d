"""Pages of the stockroom room, asked and answered."""
