"""What was asked for is found again from markets at which things ran out."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from app.core.errors import DomainError
from app.core.selling.demand import NormalDemand, PoissonDemand
from app.core.selling.sold_out import (
    Sold,
    _at_or_above,
    lasting,
    learned,
    normal_fit,
    poisson_rate,
    rate_between,
)


def markets(seed: int, mean: float, number: int, taken: int) -> list[Sold]:
    """So many markets with a Poisson demand, of which no more than were taken is sold."""
    asked = np.random.default_rng(seed).poisson(mean, number)
    return [Sold(int(min(n, taken)), bool(n >= taken)) for n in asked]


@pytest.mark.parametrize("mean", [3.0, 6.0, 12.0])
def test_the_mean_lies_where_it_is_said_to(mean: float) -> None:
    """Of 200 makers with six markets each, that took about what is asked for, 95 in 100.

    Between 90 and 99 in 100 leaves room for chance, and for counts that are whole numbers.
    """
    inside, naive, found = 0, [], []
    for seed in range(200):
        rows = markets(seed, mean, 6, round(mean) + 1)
        if all(row.sold_out for row in rows):
            continue
        low, high = rate_between(rows)
        inside += low <= mean <= high
        found.append(poisson_rate(rows))
        naive.append(sum(row.number for row in rows) / 6)
    assert 0.90 <= inside / len(found) <= 0.99
    assert abs(np.mean(found) - mean) < 0.06 * mean
    assert np.mean(naive) < 0.93 * mean


def test_hours_weigh() -> None:
    """Half the hours, half the customers; and a sell-out after few of them says more."""
    assert learned([Sold(8, weight=8.0), Sold(4, weight=4.0)], 6.0).demand.mean == 6
    short = learned([Sold(4), Sold(3, sold_out=True, weight=0.5)])
    assert short.demand.mean > learned([Sold(4), Sold(3, sold_out=True)]).demand.mean


def test_spread_is_seen_where_it_is_there() -> None:
    wide = learned([Sold(n) for n in (2, 19, 7, 30, 4, 22)])
    assert wide.spreads
    assert isinstance(wide.demand, NormalDemand)
    assert wide.demand.mean_asked == 14
    assert wide.low < 14 < wide.high
    even = learned([Sold(n) for n in (12, 15, 14, 13, 16, 14)])
    assert isinstance(even.demand, PoissonDemand)
    assert not even.spreads
    few = learned([Sold(n) for n in (2, 30, 4)])
    assert not few.spreads
    assert few.demand.mean == 12


def test_the_wide_curve_goes_with_the_hours() -> None:
    rows = [Sold(n, weight=4.0) for n in (2, 19, 7, 30, 4, 22)]
    half = learned(rows, 2.0).demand
    assert isinstance(half, NormalDemand)
    assert half.mean_asked == 7
    assert half.deviation == Fraction(round(normal_fit(rows)[1] / 2 * 1000), 1000)


def test_nothing_sold_is_little_asked() -> None:
    found = learned([Sold(0), Sold(0), Sold(0)])
    assert found.demand.mean == 0
    assert found.low == 0
    assert 0 < found.high < 1


def test_nothing_taken_says_nothing_but_that() -> None:
    assert poisson_rate([Sold(0, sold_out=True), Sold(3)]) == pytest.approx(3, abs=1e-6)


def test_beyond_a_sell_out_nothing_is_said() -> None:
    assert lasting([Sold(5, sold_out=True)]) == []
    assert lasting([Sold(3), Sold(5, sold_out=True)]) == [(3, Fraction(1, 2))]


def test_large_numbers_neither_break_nor_take_long() -> None:
    """What is far beyond the mean of the others; chances too small for a float."""
    assert poisson_rate([Sold(1000, sold_out=True), *[Sold(10)] * 9]) == pytest.approx(109, abs=1)
    rows = [Sold(300, sold_out=True, weight=1.0), Sold(1, weight=100.0)]
    assert poisson_rate(rows) == pytest.approx(301 / 101, rel=0.01)
    low, high = rate_between([Sold(900, sold_out=True)] * 9 + [Sold(900)])
    assert 900 < low < high


@pytest.mark.parametrize(
    "seen",
    [
        [Sold(12), Sold(15), Sold(18, sold_out=True), Sold(9), Sold(14), Sold(20, sold_out=True)],
        [Sold(3), Sold(8, sold_out=True), Sold(8, sold_out=True), Sold(5), Sold(11)],
    ],
)
def test_a_curve_through_sell_outs_is_the_likeliest(seen: list[Sold]) -> None:
    """Against the maximum-likelihood fit to right-censored data of SciPy."""
    data = stats.CensoredData.right_censored(
        [float(one.number) for one in seen], [one.sold_out for one in seen]
    )
    mean, deviation = stats.norm.fit(data)
    assert normal_fit(seen) == pytest.approx((mean, deviation), rel=1e-3)


@pytest.mark.parametrize(
    ("number", "mean"),
    [(1, 0.2), (1, 3.0), (2, 1.5), (3, 5.0), (10, 5.0), (12, 12.0), (40, 30.0), (640, 600.0)],
)
def test_chances_above_a_sell_out_are_those_of_scipy(number: int, mean: float) -> None:
    """The logarithm of P(D ≥ c), and the mean of D once it is at least c."""
    chance, then = _at_or_above(number, mean)
    assert chance == pytest.approx(stats.poisson.logsf(number - 1, mean), rel=1e-9)
    expected = mean * stats.poisson.sf(number - 2, mean) / stats.poisson.sf(number - 1, mean)
    assert then == pytest.approx(expected, rel=1e-9)


def test_a_curve_beyond_what_is_counted_is_none() -> None:
    """Offered twice as long, 1,125 would be asked for: more than a curve is drawn for."""
    rows = [Sold(n) for n in (200, 900, 350, 800)]
    assert learned(rows).spreads
    twice = learned(rows, 2.0)
    assert not twice.spreads
    assert twice.demand.mean == 800


def test_the_curve_needs_to_be_better_by_more_than_its_one_figure_more() -> None:
    """Akaike's rule: here likelier by 1.5, where one figure more has to bring more than 1."""
    seen = [Sold(n) for n in (16, 2, 10, 9, 10)]
    found = learned(seen)
    assert found.spreads
    mean, deviation = normal_fit(seen)
    reach = stats.norm.ppf(0.975) * deviation / 5**0.5
    assert float(found.low) == pytest.approx(mean - reach, abs=0.001)
    assert float(found.high) == pytest.approx(mean + reach, abs=0.001)


def test_what_was_offered_for_no_time_says_nothing() -> None:
    with pytest.raises(DomainError, match="Nothing was offered yet"):
        poisson_rate([Sold(3, weight=0.0)])
