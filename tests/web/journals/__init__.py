"""Pages of the journals room, asked and answered."""
