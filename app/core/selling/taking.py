"""How many of each thing to take to a market, within the hours that are left before it.

The next one of a kind is worth gain × P(D > k) − loss × P(D ≤ k); that falls from one to the next.
Those that are made already cost no minutes. Of those still to make the best worth per bench minute
comes first, until the minutes are gone: what that misses of the best is less than one journal's
worth.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from app.core.selling.demand import MOST_ASKED, Demand, Outlook, best_number, outlook

HOUR = 60
FINEST = 100_000
"""So many steps of money are told apart below what a day costs."""


@dataclass(frozen=True)
class Takeable:
    """Something that can be taken: what one sold brings, what one carried home costs.

    ``here`` are made and free for it; each other takes ``minutes`` at the bench.
    """

    key: int
    demand: Demand
    gain: Fraction
    loss: Fraction
    minutes: Fraction
    here: int = 0

    def worth(self, number: int) -> Fraction:
        """What the one after ``number`` is worth on average."""
        more = self.demand.at_least(number + 1)
        return self.gain * more - self.loss * (1 - more)

    def worth_of(self, number: int) -> Fraction:
        """What so many are worth on average."""
        found = outlook(self.demand, number)
        return self.gain * found.sold - self.loss * found.home

    @property
    def best(self) -> int:
        """How many to take if hours were no matter."""
        return min(best_number(self.demand.at_least, self.gain, self.loss), MOST_ASKED)


def take(things: Sequence[Takeable], minutes: Fraction) -> dict[int, int]:
    """How many of each to take, by key, with so many bench minutes left.

    What is made and worth it is taken first, without minutes; kinds that no longer fit are left
    out.
    """
    found = {thing.key: min(thing.best, thing.here) for thing in things}
    left = Fraction(minutes)
    waiting: list[tuple[Fraction, int]] = []

    def queue(place: int) -> None:
        thing = things[place]
        worth = thing.worth(found[thing.key])
        if worth > 0 and found[thing.key] < MOST_ASKED:
            # Without minutes it comes before all others.
            rate = worth / thing.minutes if thing.minutes else worth * 10**9
            heapq.heappush(waiting, (-rate, place))

    for place in range(len(things)):
        queue(place)
    while waiting:
        _, place = heapq.heappop(waiting)
        thing = things[place]
        if thing.minutes > left:
            continue
        left -= thing.minutes
        found[thing.key] += 1
        queue(place)
    return found


@dataclass(frozen=True)
class Prospect:
    """What a list promises: worth on average, minutes at the bench, and each thing's outlook."""

    worth: Fraction
    minutes: Fraction
    by_key: Mapping[int, Outlook]


def prospect(things: Sequence[Takeable], numbers: Mapping[int, int]) -> Prospect:
    """What a list promises, as it is."""
    asked = [(thing, numbers.get(thing.key, 0)) for thing in things]
    return Prospect(
        sum((thing.worth_of(number) for thing, number in asked), Fraction(0)),
        sum((max(number - thing.here, 0) * thing.minutes for thing, number in asked), Fraction(0)),
        {thing.key: outlook(thing.demand, number) for thing, number in asked},
    )


def worth_of_an_hour(things: Sequence[Takeable], minutes: Fraction) -> Fraction:
    """What one more hour at the bench before the day would bring, on average."""
    now, more = (prospect(things, take(things, m)).worth for m in (minutes, minutes + HOUR))
    return max(more - now, Fraction(0))


def chance_of(
    things: Sequence[Takeable],
    numbers: Mapping[int, int],
    enough: Fraction,
    earns: Callable[[Takeable], Fraction],
) -> Fraction:
    """The chance that what is sold earns at least ``enough``, each thing sold by itself.

    Earnings are added up in hundredths of the currency's unit, in more of them where the sum is
    large. Without anything to reach it is certain.
    """
    if enough <= 0:
        return Fraction(1)
    coarser = max(1, round(enough * 100 / FINEST))
    goal = math.ceil(enough * 100 / coarser)
    below = np.zeros(goal)
    below[0] = 1.0
    for thing in things:
        number = min(numbers.get(thing.key, 0), MOST_ASKED)
        one = round(earns(thing) * 100 / coarser)
        if not number or one <= 0:
            continue
        with_it = np.zeros(goal)
        for sold in range(min(number, (goal - 1) // one) + 1):
            chance = thing.demand.at_least(sold)
            if sold < number:
                chance -= thing.demand.at_least(sold + 1)
            shift = sold * one
            with_it[shift:] += float(chance) * below[: goal - shift]
        below = with_it
    short = Fraction(round(math.fsum(below) * 10**12), 10**12)
    return max(1 - short, Fraction(0))
