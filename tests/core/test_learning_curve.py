"""The learning curve against published figures.

LC: the tests of the R package learningCurve (github.com/cran/learningCurve e2096fb). F1, F2: study
text after Wright 1936, and computed. K6: lecture notes on Crawford's curve.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core import learning_curve as curve

D = Decimal


def near(found: Decimal, published: str) -> None:
    """As far as the decimals that were published."""
    assert found.quantize(D(published)) == D(published)


def test_by_the_average_of_80_percent() -> None:
    """F1: averages of 2, 4, 8, 16 and their totals."""
    for number, average, total in (
        (2, "80", "160"), (4, "64", "256"), (8, "51.2", "409.6"), (16, "40.96", "655.36")
    ):  # fmt: skip
        near(curve.total_by_the_average(D(100), D("0.8"), number), total)
        near(curve.total_by_the_average(D(100), D("0.8"), number) / number, average)


def test_by_the_unit_of_80_percent() -> None:
    """F2: units 2, 3, 4, 8 and the total of eight."""
    for number, time in ((2, "80"), (3, "70.21"), (4, "64"), (8, "51.2")):
        near(curve.by_the_unit(D(100), D("0.8"), number), time)
    near(curve.total_by_the_unit(D(100), D("0.8"), 8), "534.59")


def test_by_the_unit_of_85_percent() -> None:
    """K1, LC; K2 by the integral, where the source takes m - .05 for m - .5 and errs."""
    near(curve.by_the_unit(D(100), D("0.85"), 125), "32.236")
    near(curve.total_by_the_unit(D(100), D("0.85"), 125), "5201.085")
    near(curve.by_the_integral(D(100), D("0.85"), 125), "5202.988")


def test_by_the_average_of_85_percent() -> None:
    """K3, computed."""
    near(curve.by_the_average(D(100), D("0.85"), 125), "24.701")
    near(curve.total_by_the_average(D(100), D("0.85"), 125), "4029.559")


def test_by_the_average_from_a_later_one() -> None:
    """K4, LC: the fifth took 225 at 75%; the first took 110 at 88.5%."""
    first = D(225) / curve.by_the_average(D(1), D("0.75"), 5)
    near(curve.by_the_average(first, D("0.75"), 350), "36.909")
    near(curve.by_the_average(D(110), D("0.885"), 2200), "23.340")


def test_the_slope_found_from_a_total() -> None:
    """K5, LC: 250 took 8250, the first 80; and the slopes of common rates."""
    slope = curve.slope_by_the_average(D(80), D(8250), 250)
    near(slope, "-0.1604")
    near(curve.rate_of(slope), "0.895")
    for rate, exponent in (("0.80", "-0.3219"), ("0.85", "-0.2345"), ("0.90", "-0.1520")):
        near(curve.slope_of(D(rate)), exponent)


def test_twenty_by_sum_and_by_integral() -> None:
    """K6, lecture notes: 10 at 80%."""
    exact = curve.total_by_the_unit(D(10), D("0.8"), 20)
    about = curve.by_the_integral(D(10), D("0.8"), 20)
    near(exact, "104.849")
    near(about, "105.120")
    near((about / exact - 1) * 100, "0.258")


@given(st.integers(50, 100).map(lambda n: D(n) / 100), st.integers(1, 200))
def test_each_doubling_takes_the_same_share(rate: Decimal, number: int) -> None:
    once, twice = (curve.by_the_unit(D(60), rate, n) for n in (number, 2 * number))
    assert abs(twice - once * rate) < D("1e-20")
    part = curve.total_by_the_unit(D(60), rate, 2 * number, number + 1)
    whole = curve.total_by_the_unit(D(60), rate, 2 * number)
    assert abs(whole - curve.total_by_the_unit(D(60), rate, number) - part) < D("1e-18")


@pytest.mark.parametrize("rate", ["0", "-0.1", "1.01"])
def test_a_rate_that_is_none_is_refused(rate: str) -> None:
    with pytest.raises(ValueError, match="above 0"):
        curve.slope_of(D(rate))


def test_the_first_takes_the_first_and_none_takes_nothing() -> None:
    assert curve.total_by_the_average(D(60), D("0.8"), 0) == 0
    assert curve.by_the_average(D(60), D("0.8"), 1) == curve.by_the_unit(D(60), D("0.8"), 1) == 60
