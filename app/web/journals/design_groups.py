"""The fields of the design page in groups that fold, each saying in a line what it holds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from wtforms import Field

from app.core.structures.finish import GROUP as FINISH
from app.language import say
from app.services.shop.wording import within
from app.web.frame.fields import said

SHOWN = 3
"""Fields that a folded group speaks of."""


@dataclass(frozen=True)
class Row:
    """The fields of one of several alike, with its name."""

    name: str
    fields: Sequence[Field]


@dataclass(frozen=True)
class More:
    """The button for one more row: its name, what it says, how many rows there are; whether it was
    pressed, and has room.
    """

    button: str
    says: str
    held: str
    asked: bool
    room: bool


@dataclass(frozen=True)
class Group:
    """Some fields under a heading; ``starts_open`` until the maker folds it.

    ``first`` is what a structure offers by field; what differs from it is said before the rest.
    """

    heading: str
    fields: Sequence[Field]
    starts_open: bool = False
    rows: Sequence[Row] = ()
    """Kinds of folio, or inserts: as many as there are."""
    more: More | None = None
    first: Mapping[str, object] = field(default_factory=dict)
    empty: str = ""
    """What is said of a group with nothing in it."""

    @property
    def open(self) -> bool:
        """A group with something to look at is never folded."""
        of_rows = [f for row in self.rows for f in row.fields]
        asked = self.more is not None and self.more.asked
        return self.starts_open or asked or troubled([*self.fields, *of_rows])

    @property
    def said(self) -> str:
        """What it holds, in a line."""
        changed = [f for f in self.fields if f.name in self.first and f.data != self.first[f.name]]
        shown = changed if self.heading == say(FINISH) else self.fields
        more = [self.more.held] if self.more and self.rows else []
        words = [f"{within(f.label.text)} {said(f)}" for f in (shown or self.fields[:1])[:SHOWN]]
        return " · ".join([*words, *more]) or self.empty


def troubled(fields: Iterable[Field]) -> bool:
    """Whether any field was refused, or was saved otherwise meanwhile."""
    return any(f.errors or getattr(f, "saved_now", None) for f in fields)
