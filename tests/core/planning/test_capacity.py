"""Latest starts on the bench, against trying every order, by hand, and as rules."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.planning.capacity import (
    Job,
    LatestStart,
    MinutesOn,
    latest_starts,
    minutes_short,
    weeks_load,
)
from app.core.planning.honest_date import made_late

MONDAY = date(2027, 3, 1)


def day(number: int) -> date:
    """So many days after a Monday."""
    return MONDAY + timedelta(days=number)


def job(key: str, due: int, minutes: int, waiting: int = 0) -> Job:
    return Job(key, day(due), Fraction(minutes), waiting)


def weekly(*minutes: int) -> MinutesOn:
    return lambda on: minutes[on.weekday()]


def closed_on(every_day: int, closed: Sequence[int]) -> MinutesOn:
    """The same minutes on every day but the closed ones."""
    shut = {day(n) for n in closed}
    return lambda on: 0 if on in shut else every_day


WORKDAYS = weekly(60, 60, 60, 60, 60, 0, 0)


def test_5_hours_for_the_18th_begin_in_their_own_week_and_not_before_the_10th() -> None:
    # The order due on the 18th used to begin on the 4th, before one due on the 10th.
    first, later = job("first", 9, 5 * 60), job("later", 17, 5 * 60)
    found = latest_starts([later, first], WORKDAYS)
    # Wednesday 10 March: the five workdays before it; Thursday 18 March: the five before that.
    assert (found["first"].start, found["first"].end) == (day(2), day(8))
    assert (found["later"].start, found["later"].end) == (day(10), day(16))
    assert found["first"].next_key == found["later"].next_key == ""


def test_a_later_one_that_needs_the_days_before_pushes_the_earlier_one_forward() -> None:
    found = latest_starts([job("a", 9, 120), job("b", 10, 240)], WORKDAYS)
    # b takes Wednesday 10 and the three days before it; a has to be done before that.
    assert (found["b"].start, found["b"].end) == (day(4), day(9))
    assert (found["a"].start, found["a"].end, found["a"].next_key) == (day(2), day(3), "b")


def test_half_a_day_is_shared_by_two() -> None:
    found = latest_starts([job("a", 4, 30), job("b", 4, 30)], WORKDAYS)
    assert {row.start for row in found.values()} == {day(3)}
    found = latest_starts([job("a", 4, 31), job("b", 4, 30)], WORKDAYS)
    assert (found["b"].start, found["a"].start, found["a"].end) == (day(3), day(2), day(3))


def test_closed_days_are_stepped_over_at_both_ends() -> None:
    # Wanted on a Monday: the weekend is closed, so Friday is the last bench day.
    found = latest_starts([job("a", 7, 61)], WORKDAYS)["a"]
    assert (found.start, found.end) == (day(3), day(4))
    # Two hours on Mondays only; wanted on a Friday.
    mondays = weekly(120, 0, 0, 0, 0, 0, 0)
    assert latest_starts([job("a", 18, 60)], mondays)["a"].start == day(14)
    assert latest_starts([job("a", 18, 120)], mondays)["a"].start == day(14)
    assert latest_starts([job("a", 18, 121)], mondays)["a"].start == day(7)


@pytest.mark.parametrize(("waiting", "last"), [(0, 8), (1, 8), (2, 7), (3, 4), (5, 4)])
def test_waiting_days_come_off_before_the_bench(waiting: int, last: int) -> None:
    # One night fits before the day itself, which is for handing over; more come off; the 6th and
    # 7th day are a weekend.
    found = latest_starts([job("a", 9, 60, waiting)], WORKDAYS)["a"]
    assert (found.start, found.end) == (day(last), day(last))


def test_a_job_that_waits_goes_to_the_bench_before_one_due_sooner() -> None:
    found = latest_starts([job("dries", 9, 60, 4), job("plain", 8, 60)], closed_on(60, ()))
    assert (found["plain"].start, found["dries"].start) == (day(7), day(5))


def test_no_minutes_take_no_time() -> None:
    found = latest_starts([job("a", 5, 0), job("b", 5, 60)], WORKDAYS)
    assert (found["a"].start, found["a"].end) == (day(4), day(4))
    assert latest_starts([], WORKDAYS) == {}


def test_a_bench_that_never_opens_ends_the_search_after_ten_years() -> None:
    found = latest_starts([job("a", 0, 60)], lambda on: 0)["a"]
    assert found.start == day(-1) - timedelta(days=3650)


jobs_drawn = st.lists(
    st.tuples(st.integers(1, 14), st.integers(1, 150), st.integers(0, 3)), min_size=1, max_size=6
).map(lambda rows: [job(f"{n}", *row) for n, row in enumerate(rows)])
calendars = st.builds(
    closed_on, st.integers(20, 120), st.lists(st.integers(-15, 13), max_size=8, unique=True)
)


def backwards(order: Sequence[Job], minutes_on: MinutesOn) -> date:
    """The latest first day where jobs are worked in this order, tried minute by minute."""
    free_day, free = date.max, 0
    for work in reversed(order):
        if work.last_bench_day < free_day:
            free_day, free = work.last_bench_day, minutes_on(work.last_bench_day)
        for _ in range(int(work.minutes)):
            while not free:
                free_day -= timedelta(days=1)
                free = minutes_on(free_day)
            free -= 1
    return free_day


def check_against_every_order(jobs: list[Job], minutes_on: MinutesOn) -> None:
    found = latest_starts(jobs, minutes_on)
    assert min(row.start for row in found.values()) == max(
        backwards(order, minutes_on) for order in permutations(jobs)
    )


@settings(max_examples=40)
@given(jobs_drawn, calendars)
def test_no_other_order_lets_the_bench_begin_later(jobs: list[Job], minutes_on: MinutesOn) -> None:
    check_against_every_order(jobs, minutes_on)


def test_no_other_order_of_seven_lets_the_bench_begin_later() -> None:
    jobs = [job("a", 9, 45, 1), job("b", 4, 30), job("c", 9, 61, 3), job("d", 6, 20, 2),
            job("e", 12, 90), job("f", 5, 15), job("g", 11, 70, 1)]  # fmt: skip
    check_against_every_order(jobs, closed_on(60, (2, 3, 8)))


@given(jobs_drawn, calendars)
def test_begun_at_their_latest_starts_all_are_done_in_time(
    jobs: list[Job], minutes_on: MinutesOn
) -> None:
    found = latest_starts(jobs, minutes_on)
    taken: dict[date, Fraction] = {}
    for row in sorted(found.values(), key=lambda row: (row.start, row.end)):
        on, left = row.start, row.job.minutes
        while left:
            assert on <= row.end <= row.job.last_bench_day
            some = min(left, minutes_on(on) - taken.get(on, Fraction(0)))
            taken[on] = taken.get(on, Fraction(0)) + some
            left -= some
            on += timedelta(days=1) if left else timedelta()
    assert all(minutes <= minutes_on(on) for on, minutes in taken.items())


@given(jobs_drawn, calendars, st.integers(0, 5), st.integers(1, 60))
def test_more_work_later_never_makes_an_earlier_start_later(
    jobs: list[Job], minutes_on: MinutesOn, which: int, more: int
) -> None:
    before = latest_starts(jobs, minutes_on)
    grown = [
        Job(j.key, j.due, j.minutes + (more if n == which else 0), j.waiting_days)
        for n, j in enumerate(jobs)
    ]
    after = latest_starts(grown, minutes_on)
    assert all(after[key].start <= row.start for key, row in before.items())


def test_too_few_hours_are_found_on_the_first_day_they_lack() -> None:
    jobs = [job("a", 3, 120), job("b", 5, 121), job("c", 9, 600)]
    # Monday to Friday have 300 minutes for 241, and the week up to Tuesday 420 for 841.
    assert minutes_short(jobs, WORKDAYS, MONDAY) == (day(9), Fraction(841), 420)
    # From Tuesday on 240 for 241.
    assert minutes_short(jobs[:2], WORKDAYS, day(1)) == (day(5), Fraction(241), 240)
    assert minutes_short(jobs[:2], WORKDAYS, MONDAY) is None
    assert minutes_short([job("late", 0, 1)], WORKDAYS, MONDAY) == (MONDAY, Fraction(1), 0)
    assert minutes_short([job("a", 4, 181, 2)], WORKDAYS, MONDAY) == (day(4), Fraction(181), 180)
    assert minutes_short([], WORKDAYS, MONDAY) is None


def test_a_start_knows_its_job() -> None:
    work = job("a", 5, 60)
    assert latest_starts([work], WORKDAYS) == {"a": LatestStart(work, day(4), day(4))}


@given(
    st.lists(st.tuples(st.integers(1, 900), st.integers(1, 50), st.integers(0, 3)), max_size=8),
    st.lists(st.integers(0, 300), min_size=7, max_size=7),
)
def test_the_weeks_hold_all_work_and_none_more_than_its_hours(
    rows: list[tuple[int, int, int]], week: list[int]
) -> None:
    today = date(2027, 3, 3)
    jobs = [
        Job(f"job {n}", today + timedelta(days=due), Fraction(minutes), wait)
        for n, (minutes, due, wait) in enumerate(rows)
    ]

    def minutes_on(day: date) -> int:
        return week[day.weekday()]

    found = weeks_load(jobs, minutes_on, today, 9)
    if any(week):
        assert sum(w.wanted for w in found) == sum(job.minutes for job in jobs)
    assert [w.first for w in found] == [date(2027, 3, 1) + timedelta(weeks=n) for n in range(9)]
    # Later weeks are never too full: what does not fit begins earlier. Of this one, today counts.
    assert all(not w.over for w in found[1:])
    assert found[0].there == sum(week[day] for day in range(2, 7))
    short = minutes_short(jobs, minutes_on, today)
    assert (short is None) or found[0].over >= 0


def test_a_week_too_full_says_by_how_much() -> None:
    """Ten hours wanted by Friday, two hours a day from Wednesday: four of them are missing."""
    today = date(2027, 3, 3)
    job = Job("journals", date(2027, 3, 6), Fraction(600), 1)
    [week, following] = weeks_load([job], lambda day: 120, today, 2)
    assert (week.there, week.wanted, week.over) == (600, 600, 0)
    [week, following] = weeks_load([job], lambda day: 120 if day.weekday() < 5 else 0, today, 2)
    assert (week.there, week.wanted, week.over, following.wanted) == (360, 600, 240, 0)


def test_latest_starts_of_a_published_example_run_back_from_their_days() -> None:
    """Textbook data (work/due A 6/8, B 2/6, C 8/18, D 3/15, E 9/23), worked backwards by hand.

    One unit of work a day: E begins on the 14th, C the 6th, D the 3rd; A and B would have had to
    begin before the first, so not all can be on time.
    """
    rows = {"A": (6, 8), "B": (2, 6), "C": (8, 18), "D": (3, 15), "E": (9, 23)}
    jobs = [job(key, due, work) for key, (work, due) in rows.items()]
    found = latest_starts(jobs, lambda _: 1)
    starts = {key: (one.start - day(0)).days for key, one in found.items()}
    assert starts == {"E": 14, "C": 6, "D": 3, "A": -3, "B": -5}


PUBLISHED = {"A": (6, 8), "B": (2, 6), "C": (8, 18), "D": (3, 15), "E": (9, 23)}
"""Days of work and day due of five jobs: textbook data, also of the latest starts above."""


def lateness(order: str) -> tuple[Fraction, Fraction]:
    """Mean end and mean lateness of the five done in an order, by adding up."""
    end, ends, late = 0, 0, 0
    for job in order:
        end += PUBLISHED[job][0]
        ends += end
        late += max(end - PUBLISHED[job][1], 0)
    return Fraction(ends, 5), Fraction(late, 5)


@pytest.mark.parametrize(
    ("order", "mean_end", "mean_late"),
    [
        ("BADCE", "13.6", "1.2"),
        ("ABCDE", "15.4", "2.2"),
        ("BDACE", "13.0", "1.8"),
        ("ECADB", "20.6", "9.6"),
    ],
)
def test_no_published_order_of_five_jobs_is_less_late_than_the_benchs_own(
    order: str, mean_end: str, mean_late: str
) -> None:
    """Earliest due, as listed, shortest and longest first; one stored answer of 8.8 errs."""
    assert lateness(order) == (Fraction(mean_end), Fraction(mean_late))
    start = date(2027, 3, 1)
    jobs = [
        Job(key, start + timedelta(days=due), Fraction(work))
        for key, (work, due) in PUBLISHED.items()
    ]
    own = sorted(jobs, key=lambda job: job.last_bench_day)
    assert lateness("".join(job.key for job in own))[1] <= Fraction(mean_late)
    late = made_late(jobs[:-1], jobs[-1], lambda day: 1, start)
    # By its own order the fifth is late; nothing that was in time becomes so.
    assert late == ("E",)


@pytest.mark.parametrize(("taken", "share"), [(15, "0.9625"), (50, "0.875")])
def test_what_a_published_weeks_hours_leave_is_the_share_said(taken: int, share: str) -> None:
    """ETH Zürich, OPESS 14.7.1: five machines, ten shifts of 8 hours, so 400 hours a week.

    Three hours of upkeep each leave 96.25%, an hour's break in every shift 87.5%.
    """
    start = date(2027, 3, 1)
    hours = 5 * 10 * 8
    work = Job("upkeep", start + timedelta(days=5), Fraction(taken * 60))
    [week] = weeks_load([work], lambda day: hours * 60 // 5 if day.weekday() < 5 else 0, start, 1)
    assert week.there == hours * 60
    assert 1 - Fraction(week.wanted, week.there) == Fraction(share)


def test_a_week_begins_where_the_shop_has_it_begin() -> None:
    wednesday = date(2027, 3, 3)
    found = {begins: weeks_load([], lambda day: 60, wednesday, 2, begins) for begins in range(7)}
    assert [found[begins][0].first for begins in (0, 2, 3, 5, 6)] == [
        date(2027, 3, 1), date(2027, 3, 3), date(2027, 2, 25), date(2027, 2, 27), date(2027, 2, 28),
    ]  # fmt: skip
    for weeks in found.values():
        assert weeks[1].first - weeks[0].first == timedelta(days=7)
        assert weeks[1].there == 7 * 60
    assert [found[begins][0].there for begins in (0, 2, 6)] == [5 * 60, 7 * 60, 4 * 60]
