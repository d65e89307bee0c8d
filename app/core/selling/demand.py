"""How many of one thing may be asked for at a market, as chances that are the same everywhere.

Chances are exact fractions: those of three guesses by nature, those of a Poisson or a normal
demand worked out to twelve places and no further, so that no machine decides otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cached_property
from statistics import NormalDist
from typing import Protocol

from app.core.errors import DomainError
from app.language import say

PLACES = 12
MOST_ASKED = 1_000
"""No stall is asked for more of one thing than this in a day."""


class Demand(Protocol):
    """How many may be asked for: whole numbers from zero up."""

    @property
    def mean(self) -> Fraction:
        """How many on average."""
        ...

    def at_least(self, number: int) -> Fraction:
        """The chance that so many or more are asked for."""
        ...


def _rounded(chance: Decimal | float) -> Fraction:
    return Fraction(round(Fraction(chance) * 10**PLACES), 10**PLACES)


@dataclass(frozen=True)
class ThreeGuesses:
    """A low, a likely and a high guess: chances rise evenly to the likely one and fall after it.

    The weight of a number falls to nothing just outside the low and the high one, so that both
    may happen.
    """

    low: int
    likely: int
    high: int

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.likely <= self.high <= MOST_ASKED:
            raise DomainError(
                say(
                    "Low, likely and high must rise, between 0 and {most}: "
                    "{low}, {likely}, {high}.",
                    most=MOST_ASKED,
                    low=self.low,
                    likely=self.likely,
                    high=self.high,
                )
            )

    def _weight(self, number: int) -> Fraction:
        if number <= self.likely:
            return Fraction(number - self.low + 1, self.likely - self.low + 1)
        return Fraction(self.high + 1 - number, self.high + 1 - self.likely)

    @cached_property
    def _tails(self) -> tuple[Fraction, ...]:
        """Chances of at least low, low + 1, … up to high."""
        weights = [self._weight(n) for n in range(self.low, self.high + 1)]
        total, tail, found = sum(weights, Fraction(0)), Fraction(0), []
        for weight in reversed(weights):
            tail += weight
            found.append(tail / total)
        return tuple(reversed(found))

    @cached_property
    def mean(self) -> Fraction:
        """The sum of the chances of at least one, two, …"""
        return self.low + sum(self._tails[1:], Fraction(0))

    def at_least(self, number: int) -> Fraction:
        """One up to the low guess, nothing above the high one."""
        if number <= self.low:
            return Fraction(1)
        return self._tails[number - self.low] if number <= self.high else Fraction(0)


@dataclass(frozen=True)
class PoissonDemand:
    """Customers who come one by one, each on their own: known by its mean alone."""

    mean: Fraction

    def __post_init__(self) -> None:
        if not 0 <= self.mean <= MOST_ASKED:
            raise DomainError(say("A mean lies between 0 and {most}.", most=MOST_ASKED))

    @cached_property
    def _tails(self) -> tuple[Fraction, ...]:
        """Chances of at least 0, 1, 2, … until nothing is left to twelve places."""
        with localcontext() as exact:
            exact.prec = 40 + int(self.mean) // 2
            rate = Decimal(self.mean.numerator) / Decimal(self.mean.denominator)
            chance, below, found, number = (-rate).exp(), Decimal(0), [Fraction(1)], 0
            while (tail := _rounded(1 - below - chance)) > 0 or number < rate:
                below += chance
                found.append(tail)
                number += 1
                chance = chance * rate / number
            return tuple(found)

    def at_least(self, number: int) -> Fraction:
        """From the sum of the chances below it."""
        if number <= 0:
            return Fraction(1)
        return self._tails[number] if number < len(self._tails) else Fraction(0)


@dataclass(frozen=True)
class NormalDemand:
    """Demand that spreads more than customers on their own would: a mean and a deviation.

    Whole numbers take the chance of the half before and the half after them; what would be below
    nothing is nothing.
    """

    mean_asked: Fraction
    deviation: Fraction

    def __post_init__(self) -> None:
        if not 0 <= self.mean_asked <= MOST_ASKED or not 0 < self.deviation <= MOST_ASKED:
            raise DomainError(say("Mean and deviation lie between 0 and {most}.", most=MOST_ASKED))

    @cached_property
    def mean(self) -> Fraction:
        """Of the whole numbers from zero up, so slightly above the one it was made with."""
        total, number = Fraction(0), 1
        while chance := self.at_least(number):
            total += chance
            number += 1
        return total

    def at_least(self, number: int) -> Fraction:
        """The normal chance above the half before it."""
        if number <= 0:
            return Fraction(1)
        curve = NormalDist(float(self.mean_asked), float(self.deviation))
        return _rounded(1 - curve.cdf(number - 0.5))


def best_number(at_least: Callable[[int], Fraction], gain: Fraction, loss: Fraction) -> int:
    """How many to take where one sold brings ``gain`` and one carried home costs ``loss``.

    The single-period inventory rule: the least number q with P(D ≤ q) ≥ gain ÷ (gain + loss);
    zero where one sold brings nothing. ``at_least`` must fall to nothing, or ``loss`` be above it.
    """
    if gain <= 0:
        return 0
    enough = loss / (gain + loss)

    def worth_one_more(number: int) -> bool:
        return at_least(number + 1) > enough

    if not worth_one_more(0):
        return 0
    high = 1
    while worth_one_more(high):
        high *= 2
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if worth_one_more(middle) else (low, middle)
    return high


@dataclass(frozen=True)
class Outlook:
    """What may come of taking so many: sold on average, carried home, asked for in vain."""

    sold: Fraction
    home: Fraction
    in_vain: Fraction
    sold_out: Fraction
    """The chance that all of them are sold."""


def outlook(demand: Demand, number: int) -> Outlook:
    """What may come of taking a number of one thing."""
    sold = Fraction(0)
    for n in range(1, number + 1):
        chance = demand.at_least(n)
        if not chance:
            break
        sold += chance
    return Outlook(sold, number - sold, demand.mean - sold, demand.at_least(number))
