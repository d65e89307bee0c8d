"""What the planner goes by while it searches: short runs, and when rounding has been in vain."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE
from app.core.cutting.effort import Work
from app.core.cutting.many_sheets.columns import EFFORT as COUNTED_EFFORT
from app.core.cutting.many_sheets.columns import CountedPricers, SheetPricers
from app.core.cutting.many_sheets.integer_master import Chosen
from app.core.cutting.many_sheets.residual_heuristic import Rounder, plainly_apart
from app.core.cutting.many_sheets.search import IN_VAIN, LEAST_TO_CHOOSE, Search
from app.core.cutting.model import Break, NoPlanError, SheetOffer, Wanted
from app.core.length import MM
from app.core.paper import Piece, Sheet
from tests.core.cutting.test_effort import drawn

Kinds = list[tuple[int, int, int]]


def search_for(kinds: Kinds, most: int = 1_000_000, price: int = 7, here: int = 0) -> Search:
    """A sheet of 100 by 100, for sale, and pieces of these sizes so often."""
    wanted = [
        Wanted(f"p{i}", Piece(f"p{i}", w * MM, h * MM), n) for i, (w, h, n) in enumerate(kinds)
    ]
    sheet = Sheet("s", 100 * MM, 100 * MM)
    offer = SheetOffer("s", sheet, 1, (Break(1, price),), here, value=Fraction(price))
    search = Search(wanted, [offer], KNIFE, Work(most))
    search.look_at_each_alone()
    return search


@pytest.mark.parametrize(
    ("kinds", "short"),
    [
        # Four of 50 by 50 fill a sheet: three are a short run, four are none.
        ([(50, 50, 3)], True), ([(50, 50, 4)], False),
        # What counts is the area of all of a kind: 10,000 of short runs beside 10,000, and 500 more.
        ([(50, 50, 3), (50, 10, 5), (50, 40, 5)], False),
        ([(50, 50, 3), (50, 10, 6), (50, 40, 5)], True),
        # Of many small ones there is less than of three large ones.
        ([(90, 90, 0), (10, 10, 99), (10, 10, 100)], False),
        ([(60, 60, 1), (5, 5, 400)], False), ([(95, 95, 0), (60, 60, 1), (5, 5, 100)], True),
    ],
)  # fmt: skip
def test_short_runs(kinds: Kinds, short: bool) -> None:
    kinds = [kind for kind in kinds if kind[2]]
    assert search_for(kinds).short_runs is short


def at_money(plan: Chosen, spend: int) -> Chosen:
    """The same plan at another price."""
    [(offer, packs, _)] = plan.packs
    return Chosen(plan.repeats, ((offer, packs, spend),))


class InVain:
    """Rounds to nothing, but for the attempts that bring a plan of some money."""

    def __init__(self, brings: dict[int, Chosen]) -> None:
        self.brings, self.attempts = brings, 0

    def attempt(self, number: int) -> Chosen | None:
        self.attempts += 1
        return self.brings.get(number)


def test_rounding_ends_when_many_in_a_row_bring_nothing() -> None:
    search = search_for([(50, 50, 5), (40, 30, 7)])
    search.take(search.choose_apart(10_000).best)
    best = search.best
    assert best is not None
    alone = InVain({})
    search.round(alone, range(100), until=1.0)  # type: ignore[arg-type]
    assert alone.attempts == IN_VAIN
    assert search.best is best
    # One that brings something better begins the count anew.
    better = at_money(best, best.spend - 1)
    again = InVain({3: better})
    search.round(again, range(100), until=1.0)  # type: ignore[arg-type]
    assert again.attempts == 4 + IN_VAIN
    assert search.best is better
    # One that brings as much is no gain.
    search.take(best)
    assert search.best is better


def test_rounding_ends_at_the_bound_and_when_the_work_is_done() -> None:
    search = search_for([(50, 50, 5), (40, 30, 7)])
    search.take(search.choose_apart(10_000).best)
    assert search.best is not None
    search.bound.value = float(search.best.spend)
    none = InVain({})
    search.round(none, range(9), until=1.0)  # type: ignore[arg-type]
    assert none.attempts == 0
    search.bound.value = 0.0
    search.work.add(search.work.most // 2)
    search.round(none, range(9), until=0.4)  # type: ignore[arg-type]
    assert none.attempts == 0
    search.round(none, range(5), until=0.6)  # type: ignore[arg-type]
    assert none.attempts == 5


@pytest.mark.parametrize(
    ("left", "chosen"), [(LEAST_TO_CHOOSE, True), (LEAST_TO_CHOOSE - 1, False)]
)
def test_an_integer_program_is_begun_with_so_much_work_left(left: int, chosen: bool) -> None:
    search = search_for([(50, 50, 5), (40, 30, 7)])
    search.take(search.choose_apart(10_000).best)
    best = search.best
    assert best is not None
    search.best = at_money(best, best.spend + 1)
    search.work.add(search.work.left() - left)
    search.choose(until=1.0)
    assert (search.best.spend == best.spend) is chosen


def test_places_for_counting_are_fewer_the_more_kinds_there_are() -> None:
    kinds: Kinds = [(10 + n, 20, 3) for n in range(27)]
    pool = search_for(kinds).pool
    assert CountedPricers(pool, 10**6).points == int((COUNTED_EFFORT / 27) ** (1 / 3))
    assert CountedPricers(pool, 40).points == 40
    # Where nothing is worth anything there is no layout.
    assert CountedPricers(pool, 40).best(0, [0] * 27, 3) == []
    [found] = CountedPricers(pool, 40).best(0, [1] * 27, 3)
    assert found.counts.sum() > 0


def test_a_dear_search_brings_more_layouts_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    pool = search_for([(30, 20, 5), (40, 30, 7)]).pool
    states = SheetPricers(pool, None).states
    for dear, at_a_time in ((states, 2), (states - 1, 6)):
        monkeypatch.setattr("app.core.cutting.many_sheets.columns.DEAR_SEARCH", dear)
        assert SheetPricers(pool, None).at_a_time == at_a_time


def test_of_sheets_that_are_as_good_for_a_kind_any_will_do() -> None:
    wanted = [
        Wanted("a", Piece("a", 50 * MM, 50 * MM), 4),
        Wanted("b", Piece("b", 60 * MM, 30 * MM), 1),
    ]
    offers = [
        SheetOffer(name, Sheet(name, 100 * MM, height * MM), 1, (Break(1, 7),))
        for name, height in (("s", 100), ("t", 101))
    ]
    search = Search(wanted, offers, KNIFE, Work(1_000_000))
    search.look_at_each_alone()
    found = plainly_apart(search.pool)
    assert found is not None
    assert found.spend == 14


@pytest.mark.parametrize(
    ("here", "least"),
    # Four of 50 by 50 on a sheet for 7, six of 40 by 30: 5/4 + 7/6 sheets, less those that are here.
    [(0, 7 * (5 / 4 + 7 / 6)), (1, 7 * (5 / 4 + 7 / 6 - 1)), (3, 7 * (5 / 4 + 7 / 6 - 3))],
)  # fmt: skip
def test_least_apart_by_hand(here: int, least: float) -> None:
    search = search_for([(50, 50, 5), (40, 30, 7)], here=here)
    assert search.least_apart == pytest.approx(least)


def test_a_kind_costs_its_share_of_the_sheet_that_is_cheapest_for_it() -> None:
    wanted = [Wanted("a", Piece("a", 50 * MM, 50 * MM), 3)]
    offers = [
        SheetOffer("s", Sheet("s", 100 * MM, 100 * MM), 1, (Break(1, 8),)),
        SheetOffer("t", Sheet("t", 50 * MM, 100 * MM), 2, (Break(1, 7), Break(9, 6))),
    ]
    search = Search(wanted, offers, KNIFE, Work(1_000_000))
    search.look_at_each_alone()
    # Four on one for 8, or two on one of a pack of two for 6 at its best.
    assert search.least_apart == pytest.approx(3 * 6 / 2 / 2)


@given(st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_no_plan_of_kinds_apart_undercuts_the_least(seed: int) -> None:
    wanted, offers, cutter, _ = drawn(seed)
    search = Search(wanted, offers, cutter, Work(1_000_000))
    try:
        search.look_at_each_alone()
    except NoPlanError:
        return
    found = search.choose_apart(50_000)
    assert found.best is None or found.best.spend >= search.least_apart - 0.001
    # Within that money it is found again, and with less there is none where it is the least.
    if found.best is not None and found.proved:
        again = search.choose_apart(200_000, Work(10**7), most=found.best.spend).best
        assert again is not None
        assert again.spend == found.best.spend
        assert search.choose_apart(50_000, Work(10**7), most=found.best.spend - 1).best is None


@pytest.mark.parametrize(
    ("left", "few"),
    # Of 50 by 50 forty are few, whatever their area; of three sheets' area, twelve, fewer are few.
    [(40, True), (41, False), (12, True), (11, True), (400, False)],
)  # fmt: skip
def test_what_is_left_is_counted_where_it_is_few(
    monkeypatch: pytest.MonkeyPatch, left: int, few: bool
) -> None:
    search = search_for([(50, 50, 500)])
    search.master.solve()
    asked: list[str] = []

    class Told:
        at_a_time, all_exact = 1, False

        def __init__(self, name: str) -> None:
            self.name = name

        def best(self, *of: object) -> list[object]:
            asked.append(self.name)
            return []

    rounder = Rounder(search.pool, Told("quick"), search.master.solve(), Told("counted"))  # type: ignore[arg-type]
    monkeypatch.setattr(rounder, "_limited", lambda *of: asked.append("limited") or [])
    rounder._ways_on([1], np.array([left]), 1_000)
    assert asked == (["limited", "counted"] if few else ["quick"])
