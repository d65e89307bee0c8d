"""The honest date: nobody is made late by it, and a day earlier somebody is; by brute force."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import permutations

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.core.planning.capacity import Job
from app.core.planning.honest_date import FURTHEST_DAYS, honest_date, made_late

TODAY = date(2027, 3, 1)


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def all_in_time(order: Sequence[Job], hours: Sequence[int]) -> bool:
    """Whether jobs worked one after the other from today leave the bench in time."""
    at, free = 0, hours[0]
    for job in order:
        left = int(job.minutes)
        while left > free:
            left -= free
            at += 1
            free = hours[at % len(hours)]
        free -= left
        if day(at) > job.last_bench_day:
            return False
    return True


jobs_of = st.lists(
    st.tuples(st.integers(1, 6), st.integers(1, 14), st.integers(0, 2)), max_size=5
).map(
    lambda rows: [
        Job(f"job {n}", day(due), Fraction(minutes), wait)
        for n, (minutes, due, wait) in enumerate(rows)
    ]
)


@settings(max_examples=150, deadline=None)
@given(
    jobs_of,
    st.integers(1, 8),
    st.integers(0, 2),
    st.lists(st.integers(0, 3), min_size=7, max_size=7),
)
def test_nobody_is_made_late_and_no_earlier_date_would_do(
    jobs: list[Job], minutes: int, wait: int, week: list[int]
) -> None:
    assume(any(week))
    hours = [week[day(n).weekday()] for n in range(7)]

    def minutes_on(on: date) -> int:
        return week[on.weekday()]

    assume(any(all_in_time(order, hours) for order in permutations(jobs)) or not jobs)
    new = Job("new", TODAY, Fraction(minutes), wait)
    honest = honest_date(jobs, new, minutes_on, TODAY, TODAY)
    assert honest is not None
    promised = replace(new, due=honest)
    assert any(all_in_time(order, hours) for order in permutations([*jobs, promised]))
    assert made_late(jobs, promised, minutes_on, TODAY) == ()
    earlier = replace(new, due=honest - timedelta(days=1))
    assert not any(all_in_time(order, hours) for order in permutations([*jobs, earlier]))
    assert made_late(jobs, earlier, minutes_on, TODAY) != ()


@given(jobs_of, st.integers(1, 8), st.integers(0, 20))
def test_it_is_begun_when_its_materials_are_here(jobs: list[Job], minutes: int, ready: int) -> None:
    new = Job("new", TODAY, Fraction(minutes), 1)
    honest = honest_date(jobs, new, lambda on: 2, TODAY, day(ready))
    assert honest is not None
    # Two minutes a day from then on, handed over the day after the last of them.
    assert honest >= day(ready) + timedelta(days=-(-minutes // 2))
    if not jobs:
        assert honest == day(ready) + timedelta(days=-(-minutes // 2))


def test_textbook_jobs_worked_the_earliest_due_first() -> None:
    """Textbook data, one day of work a unit: A 6/8, B 2/6, C 8/18, D 3/15, E 9/23 (work, due).

    Earliest due first, B A D C E end on days 2, 8, 11, 19 and 28: C and E are late. From another
    textbook A 5/10, B 10/15, C 2/5, D 8/12, E 6/8: C E A D B end on 2, 8, 13, 21 and 31, and all but
    C and E are late.
    """

    def jobs(rows: dict[str, tuple[int, int]]) -> list[Job]:
        # Done by the end of a day: due the day after for what is handed over then.
        return [Job(key, day(due), Fraction(work)) for key, (work, due) in rows.items()]

    first = {"A": (6, 8), "B": (2, 6), "C": (8, 18), "D": (3, 15), "E": (9, 23)}
    *known, last = jobs(first)
    assert made_late([], Job("none", day(1), Fraction(0)), lambda on: 1, TODAY) == ()
    assert set(made_late([], known[0], lambda on: 1, TODAY)) == set()
    late: list[str] = []
    for n, job in enumerate(jobs(first)):
        late += made_late(jobs(first)[:n], job, lambda on: 1, TODAY)
    assert set(late) == {"C", "E"}
    second = {"A": (5, 10), "B": (10, 15), "C": (2, 5), "D": (8, 12), "E": (6, 8)}
    late = []
    for n, job in enumerate(jobs(second)):
        late += made_late(jobs(second)[:n], job, lambda on: 1, TODAY)
    assert set(late) == {"A", "D", "B"}
    # E of the first can be promised for the day it ends on when C is given its day.
    in_time = [*known[:2], replace(known[2], due=day(19)), known[3]]
    assert honest_date(in_time, last, lambda on: 1, TODAY, TODAY) == day(28)


def test_a_bench_without_hours_promises_nothing_it_has_no_time_for() -> None:
    new = Job("new", TODAY, Fraction(60))
    assert honest_date([], new, lambda on: 0, TODAY, TODAY) is None
    assert honest_date([], replace(new, minutes=Fraction(0)), lambda on: 0, TODAY, TODAY) == day(1)
    far = day(FURTHEST_DAYS + 1)
    assert honest_date([], new, lambda on: 90, TODAY, far) is None


def test_a_backlog_is_worked_before_anything_new() -> None:
    """120 hours late at ten a week: a new hour waits for all of them, or is due before them."""
    backlog = Job("late", day(1), Fraction(7200))
    new = Job("new", TODAY, Fraction(60))
    assert honest_date([backlog], new, lambda on: 120, TODAY, TODAY) == day(61)


def test_what_waits_for_materials_lets_others_go_first() -> None:
    """By brute force of somebody else: 150 due on the 12th waiting 3, a new 150 from the 4th on."""
    week = [60, 60, 120, 0, 0, 120, 0]
    other = Job("other", date(2027, 3, 12), Fraction(150), 3)
    new = Job("new", TODAY, Fraction(150))
    found = honest_date([other], new, lambda on: week[on.weekday()], TODAY, date(2027, 3, 4))
    assert found == date(2027, 3, 9)
    earlier = replace(new, due=date(2027, 3, 8))
    assert made_late([other], earlier, lambda on: week[on.weekday()], TODAY, date(2027, 3, 4)) == (
        "new",
    )
