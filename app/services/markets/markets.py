"""Markets: a selling day and what to take to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload
from sqlalchemy.orm.attributes import flag_modified

from app.core.costing import break_even
from app.core.errors import DomainError
from app.core.selling.demand import ThreeGuesses
from app.core.states import MovementKind
from app.language import say
from app.models import Design, Market, MarketGuess, MarketLine, Movement, Variant
from app.services.designs.estimating import Estimate
from app.services.shop.settings import check_version
from app.services.stock import ledger as stock

LONGEST_DAYS = 30
"""From the first day of a market to its last."""


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
    return [market for market in rows if market.ends >= on and market.closed_on is None]


def save_market(
    session: Session, market: Market | None, values: Mapping[str, Any], version: int | None = None
) -> Market:
    """Put a market in the calendar or change it."""
    last, day = values.get("last_day"), values["day"]
    if last is not None and not day <= last <= day + timedelta(days=LONGEST_DAYS):
        raise DomainError(
            say("The last day comes after the first, within {days} days.", days=LONGEST_DAYS),
            "last_day",
        )
    if market is None:
        market = Market()
        session.add(market)
    else:
        check_version(market, version)
        _check_days(session, market, day, last or day)
    for key, value in values.items():
        setattr(market, key, None if key == "last_day" and value == day else value)
    if market.like_id is not None and market.like_id == market.id:
        raise DomainError(say("A market is like itself: choose another one."), "like")
    session.flush()
    return market


def _check_days(session: Session, market: Market, first: date, last: date) -> None:
    """Refuse days that leave out one on which something was sold."""
    sold = select(Movement.at).where(
        Movement.market_id == market.id, Movement.kind == MovementKind.SOLD, stock.still_stands()
    )
    days = [at.astimezone().date() for at in session.scalars(sold)]
    if days and not (first <= min(days) and max(days) <= last):
        raise DomainError(
            say(
                "Something was sold there between {first} and {last}: the market keeps those days.",
                first=min(days),
                last=max(days),
            ),
            "day",
        )


@dataclass(frozen=True)
class Guess:
    """How many may be asked for, as the maker guesses."""

    low: int
    likely: int
    high: int


def guesses_of(market: Market) -> dict[int, Guess]:
    """What the maker guessed for a market, by variant."""
    return {one.variant_id: Guess(one.low, one.likely, one.high) for one in market.guesses}


def set_guesses(
    session: Session,
    market: Market,
    guesses: Mapping[int, Guess | None],
    version: int | None = None,
) -> None:
    """Say how many of each variant may be asked for; None takes a guess away."""
    check_version(market, version)
    known = {guess.variant_id: guess for guess in market.guesses}
    for variant_id, guess in guesses.items():
        found = known.get(variant_id)
        if guess is None:
            if found is not None:
                market.guesses.remove(found)
            continue
        try:
            ThreeGuesses(guess.low, guess.likely, guess.high)
        except DomainError as error:
            raise DomainError(error.message, f"likely-{variant_id}") from None
        if found is None:
            found = MarketGuess(variant_id=variant_id)
            market.guesses.append(found)
        found.low, found.likely, found.high = guess.low, guess.likely, guess.high
    flag_modified(market, "note")
    session.flush()


def packed_elsewhere(session: Session, market: Market) -> dict[int, int]:
    """How many of each variant lie in the boxes of other markets that are not closed."""
    rows = session.execute(
        select(MarketLine.variant_id, func.sum(MarketLine.packed))
        .join(MarketLine.market)
        .where(Market.id != market.id, Market.closed_on.is_(None), MarketLine.packed > 0)
        .group_by(MarketLine.variant_id)
    )
    return {variant: int(number) for variant, number in rows}


def pack(
    session: Session, market: Market, packed: Mapping[int, int], version: int | None = None
) -> None:
    """Say how many of each variant lie in the boxes.

    No more than are taken, and than are on the shelf and in no box of another market.
    """
    check_version(market, version)
    here, other = stock.holdings(session), packed_elsewhere(session, market)
    for line in market.lines:
        number = packed.get(line.variant_id, line.packed)
        held = here.get(stock.item_key(line.variant))
        there = (held.quantity if held else 0) - other.get(line.variant_id, 0)
        if not 0 <= number <= min(line.take, there) and number != line.packed:
            shares = bool(other.get(line.variant_id))
            raise DomainError(
                _too_many(line.take, max(there, 0), shares=shares), f"packed-{line.variant_id}"
            )
        line.packed = number
    flag_modified(market, "note")
    session.flush()


def _too_many(take: int, there: int, *, shares: bool) -> str:
    if shares:
        return say(
            "{take} are to be taken and {there} are on the shelf and in no other box.",
            take=take,
            there=there,
        )
    return say("{take} are to be taken and {there} are on the shelf.", take=take, there=there)


def set_take_list(
    session: Session, market: Market, takes: Mapping[int, int], version: int | None = None
) -> None:
    """Say how many of each variant to take; zero takes it off the list."""
    check_version(market, version)
    if market.closed_on is not None:
        raise DomainError(say("This market is closed: open it again to change its list."))
    lines = {line.variant_id: line for line in market.lines}
    for variant_id, take in takes.items():
        if not 0 <= take <= 100_000:
            raise DomainError(say("Take between 0 and 100 000."), f"take-{variant_id}")
        line = lines.get(variant_id)
        if line is None and take:
            variant = session.get(Variant, variant_id)
            if variant is None:
                raise DomainError(say("That variant is gone."), f"take-{variant_id}")
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


def contribution(market: Market, worked: Estimate | None) -> Fraction | None:
    """What one sold there leaves over its materials, fees, tax and the organiser's share.

    The maker's own hours are not taken off. None where it has no price there.
    """
    price = worked.price_in(market.channel_id) if worked else None
    left = (price.at_asked or price.at_suggested) if price else None
    if worked is None or left is None:
        return None
    own = worked.sheet.total("labour") + worked.sheet.total("overhead")
    return Fraction(left.profit + own) - Fraction(left.price) * Fraction(market.fee_share)


def average_contribution_of(
    market: Market, takes: Mapping[int, int], worked_out: Mapping[int, Estimate]
) -> Fraction | None:
    """What one of a list leaves over its materials, fees and tax, on average.

    The maker's own hours are not taken off: they are what the day is to pay for. ``worked_out``
    has the estimates by variant. None where nothing on the list has a price in the market's
    channel.
    """
    total, number = Fraction(0), 0
    for variant_id, take in takes.items():
        left = contribution(market, worked_out.get(variant_id))
        if left is not None:
            total += take * left
            number += take
    return total / number if number else None


def sales_to_break_even(market: Market, contribution: Fraction) -> int:
    """Journals to sell before the day has paid for itself."""
    return break_even(fixed_costs(market), contribution)
