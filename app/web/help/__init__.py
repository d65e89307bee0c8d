"""Help: the words of the bench and of the books, the keys, and what is new."""
