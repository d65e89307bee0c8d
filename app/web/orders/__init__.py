"""Orders, and who they are for."""
