"""Pages of the buying room, asked and answered."""
