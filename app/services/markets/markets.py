"""Markets: a selling day and what to take to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload
from sqlalchemy.orm.attributes import flag_modified

from app.core.costing import break_even
from app.core.errors import DomainError
from app.models import Design, Market, MarketLine, Variant
from app.services.designs.estimating import Estimate
from app.services.shop.settings import check_version


def markets(session: Session) -> list[Market]:
    """All markets with their take-lists, the next ones first, then past ones backwards."""
    query = (
        select(Market)
        .order_by(Market.day)
        .options(
            selectinload(Market.lines)
            .joinedload(MarketLine.variant)
            .joinedload(Variant.design)
            .joinedload(Design.journal),
            joinedload(Market.channel),
        )
    )
    return list(session.scalars(query))


def upcoming(session: Session, on: date) -> list[Market]:
    """Markets on a day or after it that are not closed."""
    rows = markets(session)
    return [market for market in rows if market.day >= on and market.closed_on is None]


def save_market(
    session: Session, market: Market | None, values: Mapping[str, Any], version: int | None = None
) -> Market:
    """Put a market in the calendar or change it."""
    if market is None:
        market = Market()
        session.add(market)
    else:
        check_version(market, version)
    for key, value in values.items():
        setattr(market, key, value)
    session.flush()
    return market


def set_take_list(
    session: Session, market: Market, takes: Mapping[int, int], version: int | None = None
) -> None:
    """Say how many of each variant to take; zero takes it off the list."""
    check_version(market, version)
    lines = {line.variant_id: line for line in market.lines}
    for variant_id, take in takes.items():
        if not 0 <= take <= 100_000:
            raise DomainError("Take between 0 and 100 000.", f"take-{variant_id}")
        line = lines.get(variant_id)
        if line is None and take:
            variant = session.get(Variant, variant_id)
            if variant is None:
                raise DomainError("That variant is gone.", f"take-{variant_id}")
            market.lines.append(MarketLine(variant=variant, take=take))
        elif line is not None and take:
            line.take = take
        elif line is not None:
            market.lines.remove(line)
    # The list belongs to the market: changing it must make an older form of it stale.
    flag_modified(market, "note")
    session.flush()


@dataclass(frozen=True)
class TakeRow:
    """A variant of the take-list: here, promised to earlier demands, and still to make for it."""

    variant: Variant
    take: int
    here: int
    promised: int
    to_make: int


def fixed_costs(market: Market) -> Decimal:
    """What the day costs before anything is sold."""
    return market.stall_fee + market.travel


def average_contribution(market: Market, worked_out: Mapping[int, Estimate]) -> Fraction | None:
    """What one of the take-list leaves over its materials, fees and tax, on average.

    The maker's own hours are not taken off: they are what the day is to pay for. ``worked_out``
    has the estimates by variant. None where nothing on the list has a price in the market's
    channel.
    """
    total, number = Decimal(0), 0
    for line in market.lines:
        worked = worked_out.get(line.variant_id)
        price = worked.price_in(market.channel_id) if worked else None
        left = price and (price.at_asked or price.at_suggested)
        if worked and left:
            own = worked.sheet.total("labour") + worked.sheet.total("overhead")
            total += line.take * (left.profit + own)
            number += line.take
    return Fraction(total) / number if number else None


def sales_to_break_even(market: Market, contribution: Fraction) -> int:
    """Journals to sell before the day has paid for itself."""
    return break_even(fixed_costs(market), contribution)
