"""How many to take and what was asked for, against published examples and a reference library."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from statistics import NormalDist

import pytest
from scipy import stats

from app.core.costing import break_even
from app.core.errors import DomainError
from app.core.selling.demand import NormalDemand, PoissonDemand, best_number, outlook
from app.core.selling.sold_out import Sold, lasting, normal_fit, poisson_rate

with warnings.catch_warnings():
    # Its own docstrings have escapes that Python warns about as it compiles them.
    warnings.simplefilter("ignore")
    from stockpyl.newsvendor import newsvendor_normal, newsvendor_poisson


def seen(text: str) -> list[Sold]:
    """``6+`` is six, and sold out."""
    return [Sold(int(word.rstrip("+")), word.endswith("+")) for word in text.split()]


def finely(curve: NormalDist, steps: int) -> Callable[[int], Fraction]:
    """A normal demand in ``steps`` to the unit, as whole numbers."""
    return lambda number: Fraction(1 - curve.cdf((number - 1) / steps))


@pytest.mark.parametrize(
    ("mean", "deviation", "gain", "loss", "expected"),
    [
        # stockpyl documentation (Snyder and Shen): holding .18, penalty .70, N(50, 8)
        (50, 8, "0.70", "0.18", 56.60396),
        # a worked question, N(200, 60), under 480, over 60 (its page reasons with 60/540, an error)
        (200, 60, "480", "60", 273.24),
        # textbook data: N(1000, 200), under 40, over 10
        (1000, 200, "40", "10", 1168.32),
        # textbook data: N(2100, 1200), bought at 10, sold at 22, worth nothing after
        (2100, 1200, "12", "10", 2237.02),
    ],
)
def test_the_number_to_take_meets_published_normal_demands(
    mean: float, deviation: float, gain: str, loss: str, expected: float
) -> None:
    steps = 100_000 if mean < 100 else 1000
    found = best_number(finely(NormalDist(mean, deviation), steps), Fraction(gain), Fraction(loss))
    assert found / steps == pytest.approx(expected, abs=0.006)
    reference, _ = newsvendor_normal(float(loss), float(gain), mean, deviation)
    assert found / steps == pytest.approx(reference, abs=2 / steps)


def test_e8_costs_what_the_reference_says() -> None:
    """stockpyl documentation: expected cost 1.99761."""
    steps, curve = 100, NormalDist(50, 8)
    number = best_number(finely(curve, steps), Fraction("0.70"), Fraction("0.18"))
    sold = math.fsum(1 - curve.cdf((n - 0.5) / steps) for n in range(1, number + 1)) / steps
    home, vain = number / steps - sold, 50 - sold
    assert 0.18 * home + 0.70 * vain == pytest.approx(1.99761, abs=1e-4)


def test_e9_poisson() -> None:
    """stockpyl documentation: h 1, p 4, Poisson(6): 8, expected cost 3.57011."""
    demand = PoissonDemand(Fraction(6))
    number = best_number(demand.at_least, Fraction(4), Fraction(1))
    found = outlook(demand, number)
    assert number == 8 == newsvendor_poisson(1, 4, 6)[0]
    assert float(found.home + 4 * found.in_vain) == pytest.approx(3.57011, abs=5e-6)


def test_e10_discrete() -> None:
    """Computed: bought at 1.50, sold at 2.50, refunded .50; P(15..18) = .4 .2 .3 .1: 16."""
    tail = {15: 10, 16: 6, 17: 4, 18: 1}

    def at_least(number: int) -> Fraction:
        return Fraction(10 if number < 15 else tail.get(number, 0), 10)

    assert best_number(at_least, Fraction(1), Fraction(1)) == 16


@pytest.mark.parametrize(
    ("mean", "deviation", "taken", "lost", "left", "sold_out"),
    [
        # textbook data: N(1000, 200) at 1168.32
        (1000, 200, 1168, 22.33, 190.65, None),
        # textbook data: N(2100, 1200) at 3000: in stock .7734
        (2100, 1200, 3000, 157.40, 1057.40, 1 - 0.7734),
    ],
)
def test_what_is_sold_carried_home_and_asked_in_vain(
    mean: int, deviation: int, taken: int, lost: float, left: float, sold_out: float | None
) -> None:
    """O8, O9. The books let demand fall below nothing: the curve is moved up by ten deviations."""
    up = 10 * deviation
    curve = NormalDist(mean + up, deviation)
    sold = math.fsum(1 - curve.cdf(n - 0.5) for n in range(1, taken + up + 1))
    assert mean + up - sold == pytest.approx(lost, abs=0.15)
    assert taken + up - sold == pytest.approx(left, abs=0.35)
    if sold_out is not None:
        assert 1 - curve.cdf(taken + up) == pytest.approx(sold_out, abs=5e-5)


def test_o9_profit_through_outlook() -> None:
    """Bought at 10, sold at 22, nothing after; at 3000: 12,737.19; in tens, so as to fit a stall.

    Moved up by 240 tens, which are sold for certain and bring 12 each.
    """
    demand = NormalDemand(Fraction(210 + 480), Fraction(120))
    found = outlook(demand, 300 + 480)
    profit = 220 * float(found.sold - 480) - 100 * 300
    assert profit == pytest.approx(12_737.19, abs=15)
    assert float(found.sold_out) == pytest.approx(1 - 0.7734, abs=0.002)


def test_d6_and_d7_break_even_and_margin_of_safety() -> None:
    """OpenStax, Principles of Accounting: 225, 425 for 16,000; 72,000 = 32% of safety."""
    contribution = Decimal(100) - Decimal(20)
    assert break_even(18_000, contribution) == 225
    assert break_even(18_000, contribution, 16_000) == 425
    assert Fraction(225_000 - 153_000, 225_000) == Fraction(32, 100)


def test_o1_kaplan_meier() -> None:
    """Bewick 2004, Critical Care 8:389."""
    found = lasting(seen("1 1 4 5 6+ 9 9+ 22"))
    assert [round(float(chance), 3) for _, chance in found] == [0.750, 0.625, 0.500, 0.333, 0]


def test_o2_kaplan_meier() -> None:
    """Freireich 1963 (data from memory; its totals fit O3)."""
    text = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
    found = lasting(seen(text))
    assert [float(chance) for _, chance in found] == pytest.approx(
        [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=5e-5
    )
    # O4, Zhang & Hua 2009: the largest value was sold out, so nothing is said beyond it.
    assert found[-1][0] == 23
    assert found[-1][1] > 0


def test_o3_events_over_how_long() -> None:
    """Princeton notes: 30 events over 541 are 0.05545 (they print 7.8%, 42/541: an error)."""
    assert poisson_rate([Sold(30, weight=541)]) == pytest.approx(0.05545, abs=5e-6)
    apart = [Sold(10, weight=200), Sold(20, weight=341)]
    assert poisson_rate(apart) == pytest.approx(30 / 541, abs=1e-9)


def test_o5_poisson_with_sell_outs() -> None:
    """By expectation and maximisation, and by direct search: 4.724564 (naive 4.3333)."""
    rows = seen("3 5 4 2 6+ 6+")
    assert poisson_rate(rows) == pytest.approx(4.724564, abs=5e-7)

    def likelihood(rate: float) -> float:
        return sum(
            stats.poisson.logsf(row.number - 1, rate) if row.sold_out
            else stats.poisson.logpmf(row.number, rate)
            for row in rows
        )  # fmt: skip

    best = poisson_rate(rows)
    assert all(likelihood(best) > likelihood(best + d) for d in (-0.001, 0.001))


def test_o6_normal_with_sell_outs() -> None:
    """Direct search agrees: mean 10.40100, deviation 2.74832."""
    assert normal_fit(seen("8 11 9 7 12+ 12+")) == pytest.approx((10.40100, 2.74832), abs=6e-6)


@pytest.mark.parametrize("mean", ["0.3", "4.7", "25", "180.5", "800"])
def test_poisson_chances_are_those_of_the_reference(mean: str) -> None:
    demand = PoissonDemand(Fraction(mean))
    middle = int(Fraction(mean))
    for number in {0, 1, 2, middle, middle + 1, middle + 15, 2 * middle, 3 * middle + 10}:
        assert float(demand.at_least(number)) == pytest.approx(
            stats.poisson.sf(number - 1, float(Fraction(mean))), abs=1e-11
        )


def test_all_sold_out_is_said() -> None:
    with pytest.raises(DomainError, match="ran out each time"):
        poisson_rate(seen("4+ 6+"))
    with pytest.raises(DomainError, match="Nothing was offered"):
        poisson_rate([])


def test_a_mean_and_a_deviation_below_one_are_told_from_none() -> None:
    half = Fraction(1, 2)
    assert NormalDemand(half, half).at_least(1) == half
    for mean, deviation in ((half, Fraction(0)), (Fraction(-1), half)):
        with pytest.raises(DomainError):
            NormalDemand(mean, deviation)
