"""Errors whose text a maker can act on."""

from __future__ import annotations


class DomainError(ValueError):
    """Something asked for cannot be done; the message says what, with which value, and a fix.

    ``field`` names the input the message belongs beside, where there is one.
    """

    def __init__(self, message: str, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
