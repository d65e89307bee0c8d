"""Column generation with a program and searches of its own making: whom it asks, what it takes."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from app.core.cutting.effort import Work
from app.core.cutting.many_sheets import column_generation
from app.core.cutting.many_sheets.column_generation import HOPEFUL, Generation
from app.core.cutting.many_sheets.columns import WORTH
from app.core.cutting.many_sheets.linear_master import Duals


class Scripted:
    """A pool whose program has these worths one after another, and takes any layout as new."""

    def __init__(
        self, pieces: list[list[float]], sheets: list[float], most: int = 10**6, *, new: bool = True
    ) -> None:
        self.work = Work(most)
        self.taken: list[tuple[int, tuple[int, ...]]] = []
        self.new = new
        answers = iter(pieces)
        last = [pieces[-1]]

        def solve() -> Duals:
            last[0] = next(answers, last[0])
            return Duals(np.array(last[0]), np.array(sheets), 0.0)

        self.master = SimpleNamespace(solve=solve)

    def take(self, sheet: int, found: Any) -> tuple[Any, bool]:
        self.taken.append((sheet, tuple(found.counts)))
        return None, self.new


class Offers:
    """Searches that offer these layouts by sheet, and write down at which worths they are asked."""

    all_exact, at_a_time = True, 3

    def __init__(self, by_sheet: dict[int, list[list[int]]], steps: int = 0) -> None:
        self.by_sheet, self.steps = by_sheet, steps
        self.asked: list[tuple[int, tuple[int, ...]]] = []
        self.work: Work | None = None

    def best(self, sheet: int, values: list[int], most: int) -> list[Any]:
        assert most == 3
        self.asked.append((sheet, tuple(values)))
        if self.work is not None:
            self.work.add(self.steps)
        return [SimpleNamespace(counts=np.array(c)) for c in self.by_sheet.get(sheet, [])]


def improve(pool: Scripted, offers: Offers, promise: dict[int, float] | None = None) -> Any:
    generation = Generation(pool)  # type: ignore[arg-type]
    generation.promise = dict(promise or {})
    duals = pool.master.solve()
    return generation._improve(offers, duals.pieces, duals), generation  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("count", "price", "gained"),
    [
        # Pieces worth one each: a layout of four gains on a sheet that costs less than four.
        (4, 3.999, True), (4, 4.0, False), (4, 4 / (1 + 1e-7), False), (4, 4.001, False),
        (4, 0.0, True), (0, 0.0, False),
    ],
)  # fmt: skip
def test_a_layout_is_taken_where_it_is_worth_more_than_its_sheet(
    count: int, price: float, gained: bool
) -> None:
    pool = Scripted([[1.0]], [price])
    found, generation = improve(pool, Offers({0: [[count]]}))
    assert (found, pool.taken) == (gained, [(0, (count,))] if gained else [])
    assert generation.promise == {0: pytest.approx(count / price if price else 2.0)}


def test_what_is_known_already_is_no_gain() -> None:
    pool = Scripted([[1.0]], [3.0], new=False)
    assert improve(pool, Offers({0: [[4]]}))[0] is False
    assert pool.taken == [(0, (4,))]


def test_one_gain_among_several_layouts_is_a_gain() -> None:
    for offered in ([[4], [1]], [[1], [4]]):
        pool = Scripted([[1.0]], [3.0])
        found, generation = improve(pool, Offers({0: offered}))
        assert found is True
        assert generation.promise == {0: pytest.approx(4 / 3)}


def test_sheets_far_from_paying_are_asked_only_when_no_other_gains() -> None:
    values = (WORTH,)
    poor = {0: HOPEFUL - 0.01, 1: HOPEFUL}
    # The second gains, so the first is left alone; where it does not, the first is asked after it.
    pool, offers = Scripted([[1.0]], [3.0, 3.0]), Offers({0: [[9]], 1: [[4]]})
    assert improve(pool, offers, poor)[0]
    assert offers.asked == [(1, values)]
    pool, offers = Scripted([[1.0]], [3.0, 3.0]), Offers({0: [[9]], 1: [[1]]})
    assert improve(pool, offers, poor)[0]
    assert offers.asked == [(1, values), (0, values)]
    # Nobody is asked twice.
    pool, offers = Scripted([[1.0]], [3.0, 3.0]), Offers({})
    assert improve(pool, offers)[0] is False
    assert offers.asked == [(0, values), (1, values)]


def test_it_ends_when_the_work_is_done() -> None:
    pool, offers = Scripted([[1.0]], [3.0, 3.0], most=10), Offers({0: [[4]], 1: [[4]]}, steps=10)
    offers.work = pool.work
    assert improve(pool, offers)[0] is True
    assert len(offers.asked) == 1
    assert improve(pool, offers)[0] is False
    assert len(offers.asked) == 1


def test_worths_are_smoothed_and_then_taken_as_they_are() -> None:
    # From (4, 0) to (0, 4): the next question is at (2, 2); as that gains nothing, at (0, 4).
    pool, offers = Scripted([[4.0, 0.0], [0.0, 4.0]], [3.0]), Offers({0: [[1, 0]]})
    generation = Generation(pool)  # type: ignore[arg-type]
    duals = generation.run(offers, until=1.0)  # type: ignore[arg-type]
    assert [worth for _, worth in offers.asked] == [
        (WORTH, 0), (WORTH, WORTH), (0, WORTH),
    ]  # fmt: skip
    assert (generation.rounds, generation.converged) == (2, True)
    assert duals.pieces.tolist() == [0.0, 4.0]


def test_it_has_not_converged_where_searches_are_not_exact_or_work_is_done() -> None:
    for exact, left, converged in ((True, True, True), (False, True, False), (True, False, False)):
        pool, offers = (
            Scripted([[1.0]], [3.0], most=10),
            Offers({0: [[1]]}, steps=0 if left else 10),
        )
        offers.all_exact, offers.work = exact, pool.work
        generation = Generation(pool)  # type: ignore[arg-type]
        generation.run(offers, until=1.0)  # type: ignore[arg-type]
        assert (generation.rounds, generation.converged) == (1, converged)


def test_rounds_and_work_end_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(column_generation, "MOST_ROUNDS", 5)
    pool, offers = Scripted([[1.0]], [3.0]), Offers({0: [[4]]})
    generation = Generation(pool)  # type: ignore[arg-type]
    generation.run(offers, until=1.0)  # type: ignore[arg-type]
    assert (generation.rounds, len(pool.taken), generation.converged) == (5, 5, False)
    generation.run(offers, until=1.0)  # type: ignore[arg-type]
    assert generation.rounds == 5
    pool, offers = Scripted([[1.0]], [3.0], most=100), Offers({0: [[4]]}, steps=10)
    offers.work = pool.work
    generation = Generation(pool)  # type: ignore[arg-type]
    generation.run(offers, until=0.2)  # type: ignore[arg-type]
    assert generation.rounds == 2
    told = Scripted([[1.0]], [3.0])
    told.work = Work(100, lambda doing, share: True)
    generation = Generation(told)  # type: ignore[arg-type]
    generation.run(offers, until=1.0)  # type: ignore[arg-type]
    assert (generation.rounds, told.taken) == (1, [])
