"""Values in, drawings and tables out; no clock, no database."""
