"""Which backups stay: dense near, thin far, and a wrong clock makes none go."""

from __future__ import annotations

from datetime import datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from app.core.keeping import to_keep

MOMENTS = st.sets(st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1)), max_size=60)


def test_one_a_day_for_two_years() -> None:
    every = [datetime(2026, 1, 1, 9) + timedelta(days=n) for n in range(730)]
    kept = sorted(to_keep(every), reverse=True)
    assert kept[:14] == every[:-15:-1]
    # Sundays end the weeks of ISO 8601: 2027-12-31 is a Friday, so the week it lies in is its own.
    weeks = [
        datetime(2027, 12, 31, 9),
        *(datetime(2027, 12, 26, 9) - timedelta(weeks=n) for n in range(7)),
    ]
    months = [
        datetime(2027, m, d, 9)
        for m, d in (
            (1, 31),
            (2, 28),
            (3, 31),
            (4, 30),
            (5, 31),
            (6, 30),
            (7, 31),
            (8, 31),
            (9, 30),
            (10, 31),
            (11, 30),
            (12, 31),
        )
    ]
    assert set(kept) == {*every[-14:], *weeks, *months}


def test_all_of_the_last_two_days_with_one_stay() -> None:
    day = datetime(2027, 3, 1, 8)
    hours = [day + timedelta(hours=n) for n in range(5)]
    older = [h - timedelta(days=9) for h in hours]
    oldest = [h - timedelta(days=10) for h in hours]
    assert to_keep([*hours, *older, *oldest]) == {*hours, *older, oldest[-1]}


def test_a_clock_that_was_far_ahead_for_a_day_costs_nothing() -> None:
    every = [datetime(2027, 3, 1, 9) + timedelta(days=n) for n in range(10)]
    ahead = datetime(2199, 1, 1)
    assert to_keep([*every, ahead]) == {*every, ahead}


@given(MOMENTS)
def test_the_newest_stays_and_nothing_is_made_up(made: set[datetime]) -> None:
    kept = to_keep(made)
    assert kept <= made
    assert not made or max(made) in kept
    assert to_keep(kept) == kept
