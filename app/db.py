"""The database: engines for SQLite and PostgreSQL, exact column types, transactions.

What SQLite needs besides is in :mod:`app.sqlite`. Decimals are stored as scaled
whole numbers, since SQLite would pass them through a float.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    DateTime,
    Engine,
    MetaData,
    create_engine,
    type_coerce,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Session, sessionmaker
from sqlalchemy.types import TypeDecorator

from app.sqlite import move_log, sqlite_engine

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """The root of every record."""

    metadata = MetaData(naming_convention=NAMING)


class ScaledDecimal(TypeDecorator[Decimal]):
    """An exact decimal kept as a whole number of its last place."""

    impl = BigInteger
    cache_ok = True

    def __init__(self, places: int) -> None:
        super().__init__()
        self.places = places

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:
        if value is None:
            return None
        if isinstance(value, float):
            raise TypeError("a float is no exact amount")
        scaled = Decimal(value).scaleb(self.places)
        if scaled != scaled.to_integral_value():
            raise ValueError(f"{value} has more than {self.places} decimals")
        return int(scaled)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Decimal | None:
        return None if value is None else Decimal(int(value)).scaleb(-self.places)


class Money(ScaledDecimal):
    """An amount in the shop's currency, to a ten-thousandth."""

    cache_ok = True

    def __init__(self) -> None:
        super().__init__(4)


def as_kept(column: Any) -> ColumnElement[int]:
    """A scaled decimal as the whole number it is kept as, for products inside the database."""
    return type_coerce(column, BigInteger)


class Rate(ScaledDecimal):
    """A share such as a tax or a fee, to a millionth: 0.200000 is 20%."""

    cache_ok = True

    def __init__(self) -> None:
        super().__init__(6)


class Minutes(ScaledDecimal):
    """Minutes, to a ten-thousandth."""

    cache_ok = True

    def __init__(self) -> None:
        super().__init__(4)


Length = BigInteger
"""Whole nanometres."""
Quantity = BigInteger
"""Whole base units: sheets, nanometres, ones, milligrams or microlitres."""


class Moment(TypeDecorator[datetime]):
    """An instant, kept in UTC and always given back with its zone."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs its time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        found: datetime = value
        return found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)


def make_engine(url: str, *, reads_only: bool = False, watched: bool = False) -> Engine:
    """An engine with the settings its database needs; ``watched`` as :mod:`app.sqlite` has it."""
    if url.startswith("sqlite"):
        return sqlite_engine(url, reads_only=reads_only, watched=watched)
    options = {"options": "-c default_transaction_read_only=on"} if reads_only else {}
    return create_engine(url, pool_pre_ping=True, connect_args=options)


def session_maker(engine: Engine) -> sessionmaker[Session]:
    """Sessions whose records stay readable after the commit."""
    return sessionmaker(engine, expire_on_commit=False)


def let_go(session: Session) -> None:
    """Close a session and cut what its records hold of one another.

    Whole they would be circles for the garbage collector: a pause of a tenth of a second in a
    large shop, and CPython 3.11 has been seen to die of freeing them.
    """
    session.expire_all()
    session.close()


@contextmanager
def transaction(sessions: sessionmaker[Session]) -> Iterator[Session]:
    """A session that commits at the end, or leaves nothing behind."""
    with sessions() as session, session.begin():
        yield session


def forget_for_good(engine: Engine) -> None:
    """Leave nothing of what was deleted in the log that SQLite keeps beside its file.

    Asked for when somebody's data is taken out; another database sees to that by itself.
    """
    move_log(engine, "TRUNCATE")
