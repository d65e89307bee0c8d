"""A list of pieces over several sizes of sheet, for the least money."""
