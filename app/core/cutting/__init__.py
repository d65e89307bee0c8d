"""Cutting: how pieces lie on a sheet, how many come out of it, which sheets a list needs."""
