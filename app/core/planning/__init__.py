"""Planning: what is needed, by when, and what of it must be bought."""
