"""What may be asked for at a market: as the maker guesses, or as like markets in the past say."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.selling.demand import Demand, ThreeGuesses
from app.core.selling.sold_out import Learned, Sold, learned
from app.core.states import FOR_NOTHING, PaidHow
from app.models import Market, Sale, SaleLine, Variant
from app.services.markets.closing import coming_home
from app.services.markets.markets import Guess, markets


@dataclass(frozen=True)
class Seen:
    """What was sold of a journal at a like market, and whether it ran out there."""

    market: Market
    sold: int
    packed: int

    @property
    def ran_out(self) -> bool:
        """Whether more may have been asked for."""
        return self.sold >= self.packed


@dataclass(frozen=True)
class MayBeAsked:
    """What may be asked for of a variant at a market, and where that comes from.

    ``demand`` is None where nobody said and no like market says; ``trouble`` then says why.
    """

    variant: Variant
    demand: Demand | None
    guessed: bool
    seen: tuple[Seen, ...]
    learned: Learned | None
    trouble: str = ""
    by_hours: bool = False
    """Whether what was sold counts by the hours that each market was open."""


def like_markets(session: Session, market: Market) -> list[Market]:
    """Closed markets that are like one, the newest first: it says so, or they say so of each other.

    What is like the same market is alike.
    """
    every = {one.id: one for one in markets(session)}
    found, ahead = {market.id}, [market.id]
    while ahead:
        number = ahead.pop()
        beside = {one.id for one in every.values() if one.like_id == number}
        if (like := every[number].like_id) is not None:
            beside.add(like)
        ahead += sorted(beside - found)
        found |= beside
    rows = [every[n] for n in found if n != market.id and every[n].closed_on is not None]
    return sorted(rows, key=lambda one: (one.day, one.id), reverse=True)


def _known_by(variant: Variant) -> tuple[int, str]:
    """What a journal is found again by, whichever of its designs was sold."""
    return variant.design.journal_id, variant.name


def seen_at(session: Session, like: Sequence[Market]) -> dict[tuple[int, str], list[Seen]]:
    """What was sold and had been packed of each journal at some markets, by journal and variant."""
    numbers = {market.id for market in like}
    paid_for = _left_for(session, numbers, [how for how in PaidHow if how not in FOR_NOTHING])
    given_last = {k: last for k, (_, last) in _left_for(session, numbers, FOR_NOTHING).items()}
    found: dict[tuple[int, str], list[Seen]] = {}
    for market in like:
        for row in coming_home(session, market):
            if not row.packed:
                continue
            sold, last = paid_for.get((market.id, row.variant.id)) or (0, None)
            # What was given away was asked for by nobody. Given after the last was sold, it was
            # there for whoever had asked; before, it was in no box any more.
            given = row.sold - sold
            gave = given_last.get((market.id, row.variant.id))
            there = gave is not None and (last is None or gave > last)
            packed = row.packed if there else row.packed - given
            found.setdefault(_known_by(row.variant), []).append(Seen(market, sold, packed))
    return found


def _left_for(
    session: Session, numbers: Collection[int], ways: Collection[PaidHow]
) -> dict[tuple[int, int], tuple[int, datetime]]:
    """How many were taken in some ways, and when the last, by market and variant."""
    rows = session.execute(
        select(
            Sale.market_id, SaleLine.variant_id, func.sum(SaleLine.quantity), func.max(Sale.paid_at)
        )
        .join(SaleLine.sale)
        .where(
            Sale.market_id.in_(numbers), Sale.paid_at.is_not(None), Sale.undone_at.is_(None),
            Sale.how.in_(ways),
        )
        .group_by(Sale.market_id, SaleLine.variant_id)
    )  # fmt: skip
    return {
        (market, variant): (int(number), last) for market, variant, number, last in rows if last
    }


def may_be_asked(
    session: Session,
    market: Market,
    like: Sequence[Market],
    variants: Sequence[Variant],
    guesses: Mapping[int, Guess],
) -> dict[int, MayBeAsked]:
    """What may be asked for of each variant, by its id: a guess counts before what was learned."""
    seen = seen_at(session, like)
    # Hours count where all of them are known.
    by_hours = bool(market.open_minutes) and all(one.open_minutes for one in like)
    found = {}
    for variant in variants:
        rows = tuple(seen.get(_known_by(variant), ()))
        known, trouble = _learned(market, rows, by_hours=by_hours)
        guess = guesses.get(variant.id)
        demand: Demand | None = known.demand if known else None
        if guess is not None:
            demand = ThreeGuesses(guess.low, guess.likely, guess.high)
        found[variant.id] = MayBeAsked(
            variant, demand, guess is not None, rows, known, trouble, by_hours
        )
    return found


def _learned(market: Market, rows: Sequence[Seen], *, by_hours: bool) -> tuple[Learned | None, str]:
    if not rows:
        return None, ""
    sold = [
        Sold(row.sold, row.ran_out, float(row.market.open_minutes) / 60 if by_hours else 1.0)
        for row in rows
    ]
    try:
        return learned(sold, float(market.open_minutes) / 60 if by_hours else 1.0), ""
    except DomainError as error:
        return None, error.message
