"""Journals: their designs, drawings, templates and steps."""
