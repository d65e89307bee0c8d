"""Every row of a shop, whichever database it lies in: read, compared, and put into an empty one.

A table is known by its columns' kinds alone (:class:`Column`), so that rows of an older schema can
be put back as well: they go in at that schema, and the database is upgraded after.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from hashlib import sha256
from typing import Any

from sqlalchemy import (
    JSON,
    BigInteger,
    Boolean,
    Date,
    LargeBinary,
    String,
    TableClause,
    column,
    func,
    insert,
    select,
    table,
    text,
)
from sqlalchemy.engine import Connection
from sqlalchemy.types import TypeEngine

from app.core.errors import DomainError
from app.db import Base, Moment, ScaledDecimal
from app.language import say

AT_ONCE = 1000
"""Rows read or written together."""
BY_TRIGGER = {"lot": ("left_quantity", "left_cost")}
"""What the database works out as movements come in: it begins at nothing."""
RISKY = ("=", "+", "-", "@", "\t", "\r", "'")
"""What a cell of a text may not begin with, since a spreadsheet would run it."""


@dataclass(frozen=True)
class Column:
    """A column: its name, its kind, whether it may be empty, and the table it names rows of."""

    name: str
    kind: str
    empty: bool
    key: bool
    refers_to: str | None


@dataclass(frozen=True)
class TableOf:
    """A table with its columns; ``about`` says in a line what a row is."""

    name: str
    about: str
    columns: tuple[Column, ...]

    @property
    def clause(self) -> TableClause:
        """As SQLAlchemy reads and writes it."""
        return table(self.name, *(column(c.name, _type_of(c.kind)) for c in self.columns))

    @property
    def keys(self) -> list[str]:
        """Its primary key."""
        return [c.name for c in self.columns if c.key]


def tables_now() -> list[TableOf]:
    """All tables of this program's schema, each after those it refers to."""
    about = {
        mapper.class_.__tablename__: (mapper.class_.__doc__ or "").strip().splitlines()[0]
        for mapper in Base.registry.mappers
    }
    return [
        TableOf(
            one.name,
            about[one.name],
            tuple(
                Column(
                    c.name, _kind_of(c.type), bool(c.nullable), c.primary_key,
                    next((key.column.table.name for key in c.foreign_keys), None),
                )
                for c in one.columns
            ),
        )
        for one in Base.metadata.sorted_tables
    ]  # fmt: skip


def _kind_of(found: TypeEngine[Any]) -> str:
    if isinstance(found, ScaledDecimal):
        return f"decimal, {found.places} places"
    for kind, name in (
        (Moment, "moment"), (Boolean, "yes or no"), (Date, "day"), (JSON, "JSON"),
        (LargeBinary, "bytes, base64"),
    ):  # fmt: skip
        if isinstance(found, kind):
            return name
    return "whole number" if found.python_type is int else "text"


def _type_of(kind: str) -> TypeEngine[Any]:
    if kind.startswith("decimal"):
        return ScaledDecimal(int(kind.split()[1]))
    types: dict[str, Callable[[], Any]] = {
        "moment": Moment, "yes or no": Boolean, "day": Date, "bytes, base64": LargeBinary,
        "JSON": lambda: JSON(none_as_null=True), "whole number": BigInteger, "text": String,
    }  # fmt: skip
    if kind not in types:
        raise DomainError(say("“{kind}” is no kind of column that this program knows.", kind=kind))
    made: TypeEngine[Any] = types[kind]()
    return made


def rows_of(connection: Connection, one: TableOf) -> Iterator[tuple[Any, ...]]:
    """All rows in the order of their key."""
    clause = one.clause
    query = select(clause).order_by(*(clause.c[key] for key in one.keys))
    result = connection.execution_options(yield_per=AT_ONCE).execute(query)
    for row in result:
        yield tuple(row)


def as_cells(one: TableOf, row: Sequence[Any]) -> list[str]:
    """A row as text: an empty cell is nothing, an apostrophe before a text is no part of it."""
    return [_cell(c.kind, value) for c, value in zip(one.columns, row, strict=True)]


def _cell(kind: str, value: Any) -> str:
    if value is None:
        return ""
    if kind == "text":
        return f"'{value}" if not value or value.startswith(RISKY) else str(value)
    if kind == "JSON":
        return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    if kind == "yes or no":
        return "yes" if value else "no"
    if kind == "bytes, base64":
        return base64.b64encode(value).decode("ascii")
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


def from_cells(one: TableOf, cells: Sequence[str]) -> dict[str, Any]:
    """The row that these cells were made of; a cell that makes no sense is refused by name."""
    if len(cells) != len(one.columns):
        raise DomainError(
            say(
                "{table}: a row has {number} cells, not {columns}.",
                table=one.name,
                number=len(cells),
                columns=len(one.columns),
            )
        )
    found: dict[str, Any] = {}
    for c, cell in zip(one.columns, cells, strict=True):
        try:
            found[c.name] = _value(c.kind, cell)
        except (ValueError, ArithmeticError, KeyError):
            raise DomainError(
                say(
                    "{table}: “{cell}” is no {kind} for {column}.",
                    table=one.name,
                    cell=cell[:40],
                    kind=c.kind,
                    column=c.name,
                )
            ) from None
    return found


def _value(kind: str, cell: str) -> Any:
    if not cell:
        return None
    if kind == "text":
        return cell.removeprefix("'")
    if kind == "yes or no":
        return {"yes": True, "no": False}[cell]
    if kind.startswith("decimal"):
        return Decimal(cell)
    read: dict[str, Callable[[str], Any]] = {
        "JSON": json.loads, "day": date.fromisoformat, "moment": datetime.fromisoformat,
        "whole number": int, "bytes, base64": lambda text: base64.b64decode(text, validate=True),
    }  # fmt: skip
    return read[kind](cell)


def put_rows(connection: Connection, one: TableOf, rows: Iterable[Mapping[str, Any]]) -> None:
    """Put rows into an empty table; what a trigger works out begins at nothing."""
    nothing = dict.fromkeys(BY_TRIGGER.get(one.name, ()), 0)
    waiting: list[Mapping[str, Any]] = []
    clause = insert(one.clause)
    for row in rows:
        waiting.append({**row, **nothing})
        if len(waiting) == AT_ONCE:
            connection.execute(clause, waiting)
            waiting = []
    if waiting:
        connection.execute(clause, waiting)


def go_on_counting(connection: Connection, tables: Iterable[TableOf]) -> None:
    """Let PostgreSQL's own numbers go on after those that were put in."""
    if connection.dialect.name != "postgresql":
        return
    for one in tables:
        for key in one.keys:
            clause = one.clause
            sequence = connection.scalar(
                text("SELECT pg_get_serial_sequence(:name, :key)"), {"name": one.name, "key": key}
            )
            if sequence is None:
                continue
            last = connection.scalar(select(func.max(clause.c[key])))
            connection.execute(
                text("SELECT setval(CAST(:sequence AS regclass), :last, :called)"),
                {"sequence": sequence, "last": last or 1, "called": last is not None},
            )


@dataclass(frozen=True)
class Summed:
    """How many rows a table has, and the digest of them all."""

    rows: int
    digest: str


class Summing:
    """The sum of rows as they go by."""

    def __init__(self) -> None:
        self._rows, self._digest = 0, sha256()

    def add(self, cells: Sequence[str]) -> None:
        """One more row, as text."""
        self._rows += 1
        self._digest.update(json.dumps(cells).encode())

    @property
    def sum(self) -> Summed:
        """Of all so far."""
        return Summed(self._rows, self._digest.hexdigest())


def summed(connection: Connection, tables: Iterable[TableOf]) -> dict[str, Summed]:
    """Each table's rows and their digest: equal in two databases where all rows are."""
    found: dict[str, Summed] = {}
    for one in tables:
        summing = Summing()
        for row in rows_of(connection, one):
            summing.add(as_cells(one, row))
        found[one.name] = summing.sum
    return found


def copy_all(source: Connection, target: Connection) -> dict[str, Summed]:
    """Copy every row into an empty database of this program's schema, and compare all of it."""
    tables = tables_now()
    there: dict[str, Summed] = {}
    for one in tables:
        summing, names = Summing(), [c.name for c in one.columns]

        def rows(one: TableOf = one, summing: Summing = summing) -> Iterator[tuple[Any, ...]]:
            for row in rows_of(source, one):
                summing.add(as_cells(one, row))
                yield row

        put_rows(target, one, (dict(zip(names, row, strict=True)) for row in rows()))
        there[one.name] = summing.sum
    go_on_counting(target, tables)
    here = summed(target, tables)
    other = [name for name in there if there[name] != here[name]]
    if other:
        raise DomainError(
            say("{table} did not arrive as it was: nothing was kept.", table=other[0])
        )
    return here
