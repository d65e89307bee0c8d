"""The sales behind a figure of the takings, one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any

from sqlalchemy import Select, case, func, literal, select, true, union_all
from sqlalchemy.orm import Session, joinedload

from app.db import as_kept
from app.language import say
from app.memory import remembered
from app.models import (
    Design,
    Lot,
    Market,
    Movement,
    Order,
    OrderLine,
    Outlet,
    Sale,
    SaleLine,
    Statement,
    StatementLine,
    Variant,
)
from app.services.takings.periods import Period
from app.services.takings.sold import (
    AT_SHOPS,
    AT_STALLS,
    COST,
    NONE,
    OF_ORDERS,
    ORDER_SOURCES,
    PIECES,
    SCALE,
    at_shops,
    stall_sales,
)

MILLION = 1_000_000
AT_ONCE = 900
"""Records read together: a query has room for so many numbers on any build of SQLite."""


@dataclass(frozen=True)
class SoldRow:
    """One thing sold or brought back: when, of what, at which market or for which order."""

    at: datetime
    variant_id: int
    market_id: int
    order_id: int
    outlet_id: int
    pieces: int
    paid: Fraction
    cost: Fraction


@remembered
def rows_of(
    session: Session, period: Period, by: str | None, key: int, offset: int, limit: int
) -> tuple[list[SoldRow], int]:
    """The sales behind a figure, the newest first, from one on; and how many there are.

    Sorted by nothing, all of them.
    """
    parts: list[Select[Any]] = []
    none = literal(NONE)
    for source, keys, market, order, outlet, price in (
        (stall_sales, AT_STALLS, Sale.market_id, none, none, SaleLine.unit_price),
        (at_shops, AT_SHOPS, none, none, Statement.outlet_id, StatementLine.unit_price),
        *(
            (one, OF_ORDERS, none, OrderLine.order_id, none, OrderLine.unit_price)
            for one in ORDER_SOURCES
        ),
    ):
        paid = PIECES * as_kept(price)
        if order is OrderLine.order_id:
            # As the customer paid it: with the tax that was put on top, to a ten-thousandth.
            with_tax = paid * (MILLION + as_kept(Order.tax_rate)) // MILLION
            paid = case((Order.before_tax, with_tax), else_=paid)
        parts.append(
            source(period)
            .add_columns(
                Movement.at.label("at"), Lot.variant_id.label("variant"), market.label("market"),
                order.label("order"), outlet.label("outlet"),
                PIECES.label("pieces"), paid.label("paid"),
                COST.label("cost"), Movement.id.label("movement"),
            )
            .where(true() if by is None else keys.of(by, period) == key)
        )  # fmt: skip
    every = union_all(*parts).subquery()
    total = session.scalar(select(func.count()).select_from(every)) or 0
    newest = (
        select(every)
        .order_by(every.c.at.desc(), every.c.movement.desc())
        .offset(offset)
        .limit(limit)
    )
    rows = [
        SoldRow(
            row.at, row.variant, row.market, row.order, row.outlet, int(row.pieces),
            Fraction(int(row.paid), SCALE), Fraction(int(row.cost), SCALE),
        )
        for row in session.execute(newest)
    ]  # fmt: skip
    return rows, total


@dataclass(frozen=True)
class Behind:
    """The records of a sale: the journal, and where it went; one of the last three is there."""

    row: SoldRow
    variant: Variant
    market: Market | None
    order: Order | None
    outlet: Outlet | None

    @property
    def where(self) -> str:
        """Where it was sold, in words."""
        if self.order is not None:
            return say(
                "Order {number}, {customer}",
                number=self.order.number,
                customer=self.order.customer.name,
            )
        place = self.market or self.outlet
        return place.name if place else ""


def behind(session: Session, rows: Sequence[SoldRow]) -> Iterator[Behind]:
    """The records of some sales, read together."""
    variants = dict(_read(session, Variant, {row.variant_id for row in rows}, VARIANT))
    markets = dict(_read(session, Market, {row.market_id for row in rows}))
    orders = dict(_read(session, Order, {row.order_id for row in rows}, joinedload(Order.customer)))
    outlets = dict(_read(session, Outlet, {row.outlet_id for row in rows}))
    for row in rows:
        yield Behind(
            row, variants[row.variant_id], markets.get(row.market_id), orders.get(row.order_id),
            outlets.get(row.outlet_id),
        )  # fmt: skip


VARIANT = joinedload(Variant.design).joinedload(Design.journal)


def _read(
    session: Session, kind: Any, numbers: set[int], *options: Any
) -> Iterator[tuple[int, Any]]:
    """Records of a kind by their ids."""
    wanted = sorted(numbers - {NONE})
    for first in range(0, len(wanted), AT_ONCE):
        some = select(kind).where(kind.id.in_(wanted[first : first + AT_ONCE])).options(*options)
        yield from ((one.id, one) for one in session.scalars(some))
