"""Counting what lies here: what is found and never came in costs what it would cost now."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from sqlalchemy.orm import Session

from app.models import Variant
from app.services.designs.journals import estimate_or_none
from app.services.designs.price_book import read_prices
from app.services.stock import ledger as stock
from app.services.stock.ledger import Item
from app.services.stock.materials import price_for


def count(
    session: Session, item: Item, counted: int, on: date, why: str, expected: int | None = None
) -> int:
    """Write down what was counted, as :func:`ledger.count` does.

    What is found of a thing that never came in is worth what a journal is reckoned to cost, or
    what so much of it would be bought for; nothing where neither is known.
    """
    return stock.count(
        session, item, counted, on, why, expected,
        unknown=lambda: _reckoned(session, item, counted, on),
    )  # fmt: skip


def _reckoned(session: Session, item: Item, quantity: int, on: date) -> Fraction:
    """What one base unit of so many costs on a day."""
    if isinstance(item, Variant):
        worked = estimate_or_none(read_prices(session, on), item)
        return Fraction(worked.sheet.total()) if worked is not None else Fraction(0)
    price = price_for(item, quantity, on)
    return price.each if price is not None else Fraction(0)
