"""The learning curve: each doubling of how many were made takes the same share of the time.

Two models of it, in exact enough decimals and no floats, since money follows from them:

* by the unit (J. R. Crawford, Learning Curve, Ship Curve, Ratios, Related Data, Lockheed 1944): the
  n-th takes first × n ** slope;
* by the average (T. P. Wright, Factors Affecting the Cost of Airplanes, J. Aeronautical Sciences 3,
  1936): the first n take first × n ** slope each on average.

``rate`` is the share, 0.85 where a doubling saves 15 in a hundred; the slope is its logarithm to
the base of two.
"""

from __future__ import annotations

from decimal import Decimal

HALF = Decimal("0.5")


def slope_of(rate: Decimal) -> Decimal:
    """The exponent of a rate above nothing and up to one."""
    if not 0 < rate <= 1:
        raise ValueError("a rate lies above 0 and is at most 1")
    return rate.ln() / Decimal(2).ln()


def rate_of(slope: Decimal) -> Decimal:
    """The rate of an exponent."""
    return Decimal(2) ** slope


def by_the_unit(first: Decimal, rate: Decimal, number: int) -> Decimal:
    """Crawford: the time of the n-th."""
    return first * Decimal(number) ** slope_of(rate)


def total_by_the_unit(first: Decimal, rate: Decimal, until: int, begin: int = 1) -> Decimal:
    """Crawford: the time of those from ``begin`` to ``until`` together."""
    numbers = range(begin, until + 1)
    return sum((by_the_unit(first, rate, n) for n in numbers), Decimal(0))


def by_the_integral(first: Decimal, rate: Decimal, until: int, begin: int = 1) -> Decimal:
    """Crawford: the same total nearly, by the area under the curve, half a unit more each way."""
    power = slope_of(rate) + 1
    return first / power * ((until + HALF) ** power - (begin - HALF) ** power)


def total_by_the_average(first: Decimal, rate: Decimal, until: int) -> Decimal:
    """Wright: the time of the first ``until`` together."""
    return first * Decimal(until) ** (slope_of(rate) + 1) if until else Decimal(0)


def by_the_average(first: Decimal, rate: Decimal, number: int) -> Decimal:
    """Wright: the time of the n-th, by which it raises the total."""
    before = total_by_the_average(first, rate, number - 1)
    return total_by_the_average(first, rate, number) - before


def slope_by_the_average(first: Decimal, total: Decimal, count: int) -> Decimal:
    """Wright: the exponent by which so many took so long in all."""
    return (total / count / first).ln() / Decimal(count).ln()
