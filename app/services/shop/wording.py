"""Labels within a sentence and at the head of one, as the shop's language writes its nouns."""

from __future__ import annotations

from app.language import language

NOUNS_LARGE = ("de",)
"""Languages whose nouns keep their capital wherever they stand."""


def within(label: str) -> str:
    """A label as it stands within a sentence."""
    return label if language.get() in NOUNS_LARGE else label.lower()


def capital(text: str) -> str:
    """Words as they stand at the head of a line; the rest of them stays as it is."""
    return text[:1].upper() + text[1:]
