"""Batches: what they take, how their sheets are cut, what came out."""
