"""What was asked for, learned from what was sold: a thing sold out says at least so many, no more.

Sums in floats; what comes out is rounded once, so that no machine decides otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import NormalDist

from app.core.errors import DomainError
from app.core.selling.demand import Demand, NormalDemand, PoissonDemand
from app.language import say

ROUNDS, SMALL = 2_000, 1e-18
WIDELY = 3.841458820694124
"""The chi-squared value that one free figure stays below 95 times in 100; from memory."""
MOST_MEAN = 800.0


@dataclass(frozen=True)
class Sold:
    """So many sold; at a stall that ran out of it more may have been asked for.

    ``weight`` is how long it was offered, in any unit that all have in common.
    """

    number: int
    sold_out: bool = False
    weight: float = 1.0


def lasting(seen: Sequence[Sold]) -> list[tuple[int, Fraction]]:
    """By Kaplan and Meier: numbers that were all that was asked for, and the chance of more.

    In rising order. Where the largest number was sold out, nothing is said beyond it.
    """
    left, chance, found = len(seen), Fraction(1), []
    for number in sorted({one.number for one in seen}):
        ended = sum(1 for one in seen if one.number == number and not one.sold_out)
        if ended:
            chance *= Fraction(left - ended, left)
            found.append((number, chance))
        left -= sum(1 for one in seen if one.number == number)
    return found


def _poisson_log(number: int, mean: float) -> float:
    return number * math.log(mean) - mean - math.lgamma(number + 1)


def _at_or_above(number: int, mean: float) -> tuple[float, float]:
    """The logarithm of the chance of at least so many, and how many it then is on average.

    Summed from the side where the terms are few, each against the largest of them, so that
    nothing is too small to be told from nothing.
    """
    if number <= 0:
        return 0.0, mean
    term, n, terms, weighed = 1.0, number, [1.0], [float(number)]
    if number > mean:
        while term > SMALL:
            n += 1
            term *= mean / n
            terms.append(term)
            weighed.append(term * n)
        whole = math.fsum(terms)
        return _poisson_log(number, mean) + math.log(whole), math.fsum(weighed) / whole
    # Below the mean what is missing is the smaller part.
    n, terms = number - 1, [1.0]
    while term > SMALL:
        # At zero the next term is nothing, and the last.
        term *= n / mean
        terms.append(term)
        n -= 1
    below = math.exp(_poisson_log(number - 1, mean)) * math.fsum(terms)
    exactly_before = math.exp(_poisson_log(number - 1, mean))
    tail = 1.0 - below
    # mean·P(D ≥ c−1) ÷ P(D ≥ c)
    return math.log(tail), mean * (tail + exactly_before) / tail


def poisson_rate(seen: Sequence[Sold]) -> float:
    """The rate of customers that makes what was seen likeliest: asked for ÷ how long offered.

    What ran out counts with what would have been asked for, D ≥ c: mean·P(D ≥ c−1) ÷ P(D ≥ c).
    The rate at which that is what was expected is the likeliest (the fixed point of expectation
    and maximisation); it is searched by halving. Raises where all of it ran out.
    """
    weight = math.fsum(one.weight for one in seen)
    if not seen or weight <= 0:
        raise DomainError(say("Nothing was offered yet."))
    if all(one.sold_out for one in seen):
        raise DomainError(
            say("It ran out each time: how many would have been asked for is unknown.")
        )

    def more_was_asked(rate: float) -> bool:
        return math.fsum(_asked(one, rate * one.weight) for one in seen) > rate * weight

    low = math.fsum(one.number for one in seen) / weight
    if not more_was_asked(low):
        return low
    high = low * 2
    while more_was_asked(high):
        high *= 2
    return _edge(more_was_asked, low, high)


def _asked(one: Sold, mean: float) -> float:
    if not one.sold_out or mean <= 0:
        return float(one.number)
    return _at_or_above(one.number, mean)[1]


def _poisson_likelihood(seen: Sequence[Sold], rate: float) -> float:
    total = 0.0
    for one in seen:
        mean = max(rate * one.weight, 1e-12)
        if one.sold_out:
            total += _at_or_above(one.number, mean)[0]
        else:
            total += _poisson_log(one.number, mean)
    return total


def rate_between(seen: Sequence[Sold]) -> tuple[float, float]:
    """Where the rate lies 95 times in 100, by the ratio of likelihoods (Wilks)."""
    best = poisson_rate(seen)
    least = _poisson_likelihood(seen, best) - WIDELY / 2

    def inside(rate: float) -> bool:
        return _poisson_likelihood(seen, rate) >= least

    high = max(best, 0.1)
    while inside(high):
        high *= 2
    return _edge(inside, best, 0.0), _edge(inside, best, high)


def _edge(inside: Callable[[float], bool], good: float, bad: float) -> float:
    for _ in range(60):
        middle = (good + bad) / 2
        good, bad = (middle, bad) if inside(middle) else (good, middle)
    return good


def normal_fit(seen: Sequence[Sold]) -> tuple[float, float]:
    """Mean and deviation that make what was seen likeliest, sell-outs as at least so many."""
    numbers = [float(one.number) for one in seen]
    mean = math.fsum(numbers) / len(numbers)
    deviation = math.sqrt(math.fsum((n - mean) ** 2 for n in numbers) / len(numbers)) or 0.5
    standard = NormalDist()
    for _ in range(ROUNDS):
        first, second = [], []
        for one in seen:
            if not one.sold_out:
                first.append(float(one.number))
                second.append(float(one.number) ** 2)
                continue
            z = (one.number - mean) / deviation
            # Mills' ratio: density over the chance above.
            mills = standard.pdf(z) / max(1 - standard.cdf(z), 1e-300)
            above = mean + deviation * mills
            first.append(above)
            second.append(mean**2 + deviation**2 + deviation * (one.number + mean) * mills)
        new_mean = math.fsum(first) / len(seen)
        variance = math.fsum(second) / len(seen) - new_mean**2
        new_deviation = math.sqrt(max(variance, 1e-6))
        settled = abs(new_mean - mean) + abs(new_deviation - deviation) < 1e-12 * max(mean, 1.0)
        mean, deviation = new_mean, new_deviation
        if settled:
            break
    return mean, deviation


def _normal_likelihood(seen: Sequence[Sold], mean: float, deviation: float) -> float:
    """Of whole numbers, so that it compares with that of Poisson."""
    curve = NormalDist(mean, deviation)
    total = 0.0
    for one in seen:
        below = curve.cdf(one.number - 0.5) if one.number else 0.0
        chance = 1 - below if one.sold_out else curve.cdf(one.number + 0.5) - below
        total += math.log(max(chance, 1e-300))
    return total


@dataclass(frozen=True)
class Learned:
    """A demand learned from like markets, and where its mean lies 95 times in 100."""

    demand: Demand
    low: Fraction
    high: Fraction
    spreads: bool
    """Whether it spreads more than customers on their own would."""


def learned(seen: Sequence[Sold], weight: float = 1.0) -> Learned:
    """What may be asked for where it is offered for ``weight``, learned from what was seen.

    Poisson, unless a normal demand explains it better by more than the figure it has besides
    (Akaike's rule); that is asked of four or more, all offered alike.
    """
    rate = poisson_rate(seen)
    low, high = rate_between(seen)
    alike = len({one.weight for one in seen}) == 1
    if len(seen) >= 4 and alike:
        mean, deviation = normal_fit(seen)
        better = _normal_likelihood(seen, mean, deviation) - _poisson_likelihood(seen, rate)
        scale = weight / seen[0].weight
        # Fewer than nothing is never asked for, so a wide curve about little is none.
        if better > 1 and deviation > math.sqrt(max(mean, 0.0)) and 0 < mean * scale < MOST_MEAN:
            reach = 1.959964 * deviation / math.sqrt(len(seen))
            wide = NormalDemand(_thousandth(mean * scale), _thousandth(deviation * scale))
            bounds = max(mean - reach, 0.0) * scale, (mean + reach) * scale
            return Learned(wide, _thousandth(bounds[0]), _thousandth(bounds[1]), spreads=True)
    mean = min(rate * weight, MOST_MEAN)
    return Learned(
        PoissonDemand(_thousandth(mean)), _thousandth(low * weight), _thousandth(high * weight),
        spreads=False,
    )  # fmt: skip


def _thousandth(value: float) -> Fraction:
    return Fraction(round(value * 1000), 1000)
