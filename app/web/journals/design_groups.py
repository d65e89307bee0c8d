"""The fields of the design page in groups that fold, each saying in a line what it holds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from wtforms import Field

from app.web.frame.fields import said

SHOWN = 2
"""Fields that a folded group speaks of."""


@dataclass(frozen=True)
class Group:
    """Some fields under a heading; ``starts_open`` until the maker folds it."""

    heading: str
    fields: Sequence[Field]
    starts_open: bool = False
    gathers: bool = False
    """Whether kinds of folio follow its fields."""

    @property
    def open(self) -> bool:
        """A group with something to look at is never folded."""
        return self.starts_open or troubled(self.fields)

    @property
    def said(self) -> str:
        """What it holds, in a line."""
        return " · ".join(
            f"{field.label.text.lower()} {said(field)}" for field in self.fields[:SHOWN]
        )


def troubled(fields: Iterable[Field]) -> bool:
    """Whether any field was refused, or was saved otherwise meanwhile."""
    return any(field.errors or getattr(field, "saved_now", None) for field in fields)
