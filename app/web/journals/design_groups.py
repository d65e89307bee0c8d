"""The fields of the design page in groups that fold, each saying in a line what it holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from wtforms import Field

from app.core.structures.finish import GROUP as FINISH
from app.web.frame.fields import said

SHOWN = 3
"""Fields that a folded group speaks of."""


@dataclass(frozen=True)
class Group:
    """Some fields under a heading; ``starts_open`` until the maker folds it.

    ``first`` is what a structure offers by field; what differs from it is said before the rest.
    """

    heading: str
    fields: Sequence[Field]
    starts_open: bool = False
    gathers: bool = False
    """Whether kinds of folio follow its fields."""
    kinds: int = 0
    first: Mapping[str, object] = field(default_factory=dict)

    @property
    def open(self) -> bool:
        """A group with something to look at is never folded."""
        return self.starts_open or troubled(self.fields)

    @property
    def said(self) -> str:
        """What it holds, in a line."""
        changed = [f for f in self.fields if f.name in self.first and f.data != self.first[f.name]]
        shown = changed if self.heading == FINISH else self.fields
        more = [f"{self.kinds} more kind{'' if self.kinds == 1 else 's'}"] if self.kinds else []
        words = [f"{f.label.text.lower()} {said(f)}" for f in (shown or self.fields[:1])[:SHOWN]]
        return " · ".join([*words, *more])


def troubled(fields: Iterable[Field]) -> bool:
    """Whether any field was refused, or was saved otherwise meanwhile."""
    return any(f.errors or getattr(f, "saved_now", None) for f in fields)
