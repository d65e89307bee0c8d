"""The sales behind a figure of the takings, one by one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any

from sqlalchemy import BigInteger, Select, case, func, literal, select, true, union_all
from sqlalchemy import type_coerce as coerce
from sqlalchemy.orm import Session

from app.models import Lot, Movement, Order, OrderLine, Sale, SaleLine, Statement, StatementLine
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
    as_kept,
    at_shops,
    stall_sales,
)

MILLION = 1_000_000


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
            with_tax = paid * (MILLION + coerce(Order.tax_rate, BigInteger)) // MILLION
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
