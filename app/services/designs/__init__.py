"""Journals and their designs, what one costs, how it is folded, compared and posted."""
