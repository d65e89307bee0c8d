"""When the planner looks at plain grids too, and what it does when it is stopped."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from app.core.cutting.cutter import KNIFE
from app.core.cutting.effort import Work
from app.core.cutting.many_sheets import planner
from app.core.cutting.many_sheets.integer_master import Choice
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.planner import CLOSE_MONEY, GRIDS_STEPS, plan_batch
from app.core.cutting.many_sheets.search import Search
from app.core.cutting.model import Break, Buy, SheetOffer, Wanted
from app.core.length import MM
from app.core.paper import Piece, Sheet

OFFER = SheetOffer("s", Sheet("s", 100 * MM, 100 * MM), 1, (Break(1, 7),), value=Fraction(7))


def wanted(*counts: int) -> list[Wanted]:
    return [
        Wanted(f"p{i}", Piece(f"p{i}", (50 - 7 * i) * MM, 40 * MM), n) for i, n in enumerate(counts)
    ]


class Told(Search):
    """A search that writes down what kinds apart may cost, and finds nothing."""

    least = 0.0

    def __init__(self, *counts: int) -> None:
        super().__init__(wanted(*counts), [OFFER], KNIFE, Work(10**6))
        self.asked: list[Any] = []

    @property
    def least_apart(self) -> float:
        return self.least

    def choose_apart(self, steps: int, work: Work | None = None, most: int | None = None) -> Choice:
        self.asked.append((steps, most))
        return Choice(None, proved=False, impossible=True)


@pytest.mark.parametrize(
    ("least", "counts", "asked"),
    [
        (0.0, (3, 4), True), (21.0, (3, 4), True), (21 + CLOSE_MONEY, (3, 4), True),
        (21 + 2 * CLOSE_MONEY, (3, 4), False), (0.0, (3,), False),
    ],
)  # fmt: skip
def test_grids_are_looked_for_as_far_as_they_may_cost_no_more(
    least: float, counts: tuple[int, ...], asked: bool
) -> None:
    search, plan = Told(*counts), BatchPlan((), (Buy(OFFER, 3, 21),), 0)
    search.least = least
    assert planner._no_worse_than_grids(search, plan) is plan
    assert search.asked == ([(GRIDS_STEPS, 21)] if asked else [])


def test_who_stops_it_with_a_plan_gets_that_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """Kinds cut apart are looked for anew only where there is no plan yet."""
    real, works = Search.choose_apart, []

    def told(self: Search, steps: int, work: Work | None = None, most: int | None = None) -> Choice:
        works.append(work)
        return real(self, steps, work, most)

    monkeypatch.setattr(Search, "choose_apart", told)
    calls = iter(range(100_000))
    later = plan_batch(wanted(30, 40), [OFFER], progress=lambda doing, share: next(calls) > 6)
    assert later.cut_short
    assert works
    assert all(work is None for work in works)
