"""What a person does: plain functions, session first, that flush and never commit."""
