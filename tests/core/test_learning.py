"""Minutes learned from batches: known ones found again, bad days passed over."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import combinations
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.learning import LEAST_BATCHES, Worked, learn

SIX = Fraction(6)


def worked(*rows: tuple[int, float]) -> list[Worked]:
    return [Worked(n, Fraction(y).limit_denominator(1000)) for n, y in rows]


def test_a_line_is_found_exactly_and_one_bad_day_changes_nothing() -> None:
    good = worked((10, 9), (20, 13), (30, 17), (40, 21), (25, 15))
    found = learn(good, SIX)
    assert found is not None
    assert (found.setup, found.each, found.spread, found.batches) == (5, Fraction(2, 5), 0, 5)
    bad = learn([*good, *worked((35, 300))], SIX)
    assert bad is not None
    assert (bad.setup, bad.each) == (5, Fraction(2, 5))


def test_by_hand() -> None:
    """(1, 2), (2, 3), (4, 9): slopes 1, 7/3, 3; their middle 7/3; starts -1/3, -5/3, -1/3."""
    found = learn(worked((1, 2), (2, 3), (4, 9)), SIX)
    assert found is not None
    # A start below nothing is none; then it is all for each: the middle of 2, 3/2 and 9/4.
    assert (found.setup, found.each, found.spread) == (0, 2, 1)


def test_work_that_is_all_setting_up_or_nearly_none_is_said_so() -> None:
    same = learn(worked((1, 30), (2, 30), (4, 30)), SIX)
    assert same is not None
    assert (same.setup, same.each, same.spread) == (30, 0, 0)
    # Half a minute of setting up, and 2 for each.
    half = learn(worked((1, 2.5), (2, 4.5), (4, 8.5)), SIX)
    assert half is not None
    assert (half.setup, half.each, half.spread) == (Fraction(1, 2), 2, 0)


@pytest.mark.parametrize("rows", [[], [(3, 4.0)], [(3, 4.0), (6, 7.0)], [(0, 5.0)] * 5])
def test_too_few_batches_say_nothing(rows: list[tuple[int, float]]) -> None:
    assert learn(worked(*rows), SIX) is None


def test_where_all_had_as_much_setting_up_stays() -> None:
    found = learn(worked((10, 16), (10, 26), (10, 17)), SIX)
    assert found is not None
    assert (found.setup, found.each, found.spread) == (6, Fraction(11, 10), 1)


@pytest.mark.parametrize("seed", range(12))
def test_known_minutes_are_found_in_simulated_logs_within_the_spread(seed: int) -> None:
    """Thirty batches, each 8% off, one in six a bad day: a batch of 30 within two spreads."""
    draw = random.Random(seed)
    setup, each = draw.uniform(2, 15), draw.uniform(0.2, 4)
    rows = []
    for number in range(30):
        count = draw.randint(5, 60)
        minutes = (setup + each * count) * draw.gauss(1, 0.08)
        rows.append((count, minutes * (3 if number % 6 == 5 else 1)))
    found = learn(worked(*rows), SIX)
    assert found is not None
    true = setup + each * 30
    assert abs(float(found.setup + found.each * 30) - true) <= 2 * float(found.spread)
    assert float(found.each) == pytest.approx(each, rel=0.15)


@given(
    st.lists(st.tuples(st.integers(1, 90), st.integers(1, 900)), min_size=LEAST_BATCHES, max_size=8)
)
def test_no_more_than_three_in_ten_can_carry_it_off(rows: list[tuple[int, int]]) -> None:
    found = learn(worked(*rows), SIX)
    assert found is not None
    assert found.setup >= 0
    assert found.each >= 0
    slopes = [Fraction(b[1] - a[1], b[0] - a[0]) for a, b in combinations(rows, 2) if a[0] != b[0]]
    if slopes and found.setup:
        assert found.each == max(median(slopes), 0)
    halves = [abs(y - found.setup - found.each * n) <= found.spread for n, y in rows]
    assert 2 * sum(halves) >= len(rows)
