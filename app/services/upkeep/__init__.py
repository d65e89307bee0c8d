"""Whether everything in the books agrees."""
