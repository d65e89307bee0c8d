"""What to take to a market: proposed from demand, what one brings, and the hours left before it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.planning.capacity import minutes_free
from app.core.selling.taking import Prospect, Takeable, chance_of, prospect, take, worth_of_an_hour
from app.language import say
from app.models import Market, Variant
from app.services.designs.estimating import Estimate
from app.services.markets.demand import MayBeAsked, like_markets, may_be_asked
from app.services.markets.markets import Guess, contribution, fixed_costs
from app.services.planning.capacity import NO_HOURS_SAID
from app.services.planning.requirements import needs, promised_to_others
from app.services.stock import ledger as stock


@dataclass(frozen=True)
class MarketPlan:
    """What a market's list could be, and what that promises.

    ``minutes`` are those the bench has left before it, None where the shop's week has no hours;
    ``things`` what can be proposed, by the variant's id, ``why_not`` why others cannot,
    ``like`` the markets that it learns from.
    """

    market: Market
    like: Sequence[Market]
    asked: Mapping[int, MayBeAsked]
    things: Mapping[int, Takeable]
    why_not: Mapping[int, str]
    minutes: Fraction | None
    proposed: Mapping[int, int]
    an_hour_more: Fraction | None

    def promises(self, numbers: Mapping[int, int]) -> Prospect:
        """What a list would come to, of what is known about."""
        return prospect(list(self.things.values()), numbers)

    def pays_for_itself(self, numbers: Mapping[int, int]) -> Fraction:
        """The chance that what is sold of a list pays for the day."""
        return chance_of(
            list(self.things.values()), numbers, Fraction(fixed_costs(self.market)),
            lambda thing: thing.gain,
        )  # fmt: skip


def market_plan(
    session: Session,
    market: Market,
    variants: Sequence[Variant],
    worked_out: Mapping[int, Estimate],
    guesses: Mapping[int, Guess],
    on: date,
) -> MarketPlan:
    """What could be taken to a market.

    ``worked_out`` has the estimates by variant, ``guesses`` how many of it may be asked for.
    """
    like = like_markets(session, market)
    asked = may_be_asked(session, market, like, variants, guesses)
    here, promised = stock.holdings(session), promised_to_others(session, market, on)
    things: dict[int, Takeable] = {}
    why_not: dict[int, str] = {}
    for variant in variants:
        worked = worked_out.get(variant.id)
        left = contribution(market, worked)
        demand = asked[variant.id].demand
        if worked is None or left is None:
            why_not[variant.id] = say("It has no price here.")
        elif demand is None:
            why_not[variant.id] = asked[variant.id].trouble or say("Say how many may be asked for.")
        else:
            held = here.get(stock.item_key(variant))
            free = (held.quantity if held else 0) - promised.get(variant.id, 0)
            things[variant.id] = Takeable(
                variant.id, demand, left,
                Fraction(worked.sheet.total()) * Fraction(market.home_share),
                worked.sheet.minutes, max(free, 0),
            )  # fmt: skip
    minutes = minutes_before(session, market, on)
    every = list(things.values())
    endless = Fraction(NO_HOURS_SAID)
    proposed = take(every, endless if minutes is None else minutes)
    more = None if minutes is None else worth_of_an_hour(every, minutes)
    return MarketPlan(market, like, asked, things, why_not, minutes, proposed, more)


def minutes_before(session: Session, market: Market, on: date) -> Fraction | None:
    """Bench minutes left before a market beside all that is promised; None without any hours."""
    times = needs(session, on).times
    if times.minutes_on(on) >= NO_HOURS_SAID:
        return None
    link = f" market-{market.id}"
    # What only refills the shelf is promised to nobody.
    others = [j for j in times.jobs if not j.key.endswith(link) and " journal-" not in j.key]
    return minutes_free(others, times.minutes_on, on, market.day)
