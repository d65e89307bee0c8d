"""Calculation only: plain values in, plain values out; no database, no web, no unit library."""
