"""Names as people read them: written in capitals or small, with one blank or two, they are one."""

from __future__ import annotations

from typing import Any, TypeVar

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

Named = TypeVar("Named")


def folded(name: str) -> str:
    """What two names that are read alike have in common."""
    return " ".join(name.split()).casefold()


def named(
    session: Session, kind: type[Named], name: str, *where: ColumnElement[bool]
) -> list[Named]:
    """The records of a name, however it is capitalised, the oldest first."""
    # Databases differ in which letters they know to be large or small, so Python compares.
    table: Any = kind
    query = select(table.id, table.name).where(*where)
    found = [at for at, known in session.execute(query) if folded(known) == folded(name)]
    return list(session.scalars(select(table).where(table.id.in_(found)).order_by(table.id)))


def other_named(session: Session, kind: type[Named], name: str, but: object) -> Named | None:
    """Another record of this name than the one that is to bear it."""
    return next((other for other in named(session, kind, name) if other is not but), None)
