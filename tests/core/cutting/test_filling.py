"""How a sheet is filled: freely or within limits, when quick layouts end, how coarse it looks."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.effort import NORMAL_STEPS, Work
from app.core.cutting.one_sheet import filling
from app.core.cutting.one_sheet.filling import Filled, fill_sheet
from app.core.cutting.one_sheet.limits import Kind, Start
from app.core.cutting.one_sheet.rounded import states
from app.core.cutting.one_sheet.unlimited import Lying, fitting
from app.core.cutting.tree import Part

WHOLE = Part(0, 0, 11, 10)
NOTHING = Filled(0, 0, WHOLE)


def kind(name: str, width: int, height: int, value: int, count: int) -> Kind:
    return Kind((Lying(name, width, height, value),), value, count)


def starts(*values: int) -> Iterator[Start]:
    return iter([Start(value, WHOLE, ()) for value in values])


@pytest.mark.parametrize(
    ("values", "known", "bound", "tries", "looked", "best"),
    [
        ((5, 9, 7), None, None, None, 3, 9), ((5, 9, 7), None, None, 2, 2, 9),
        ((5, 9, 7), None, None, 1, 1, 5), ((5, 9, 7), 8, None, 1, 1, 8),
        # Nothing exceeds the bound, so who has reached it looks no further.
        ((5, 9, 7), None, 9, None, 2, 9), ((5, 9, 7), None, 10, None, 3, 9),
        ((5, 9, 7), 9, 9, None, 1, 9), ((), 8, None, None, 0, 8),
    ],
)  # fmt: skip
def test_the_best_of_a_few_quick_layouts(
    values: tuple[int, ...], known: int | None, bound: int | None, tries: int | None, looked: int,
    best: int,
) -> None:  # fmt: skip
    charging: Any = SimpleNamespace(steps=10, bound=bound)
    work = Work(1_000)
    start = None if known is None else Start(known, WHOLE, ())
    found = filling._best_of(starts(*values), start, charging, work, 1.0, tries)
    assert found is not None
    assert found.value == best
    assert work.done == 10 * looked


def test_of_two_as_good_the_first_stays() -> None:
    charging: Any = SimpleNamespace(steps=1, bound=None)
    first, second = Start(7, WHOLE, (1,)), Start(7, WHOLE, (2,))
    assert filling._best_of(iter([first, second]), None, charging, Work(9), 1.0, None) is first


def test_quick_layouts_end_past_their_share_of_the_work_but_one_is_looked_at() -> None:
    charging: Any = SimpleNamespace(steps=10, bound=None)
    for done, until, looked in ((0, 0.3, 4), (0, 0.29, 3), (90, 0.1, 1)):
        work = Work(100)
        work.add(done)
        filling._best_of(starts(*range(1, 20)), None, charging, work, until, None)
        assert work.done == done + 10 * looked
    stopped = Work(100, lambda doing, share: True)
    stopped.told_to_stop("it")
    filling._best_of(starts(1, 2, 3), None, charging, stopped, 1.0, None)
    assert stopped.done == 10


@pytest.mark.parametrize(
    ("steps", "points"), [(2, 60), (7_201, 60), (20_000, 100), (19_999, 99), (10**9, 700), (980_002, 700)]
)  # fmt: skip
def test_places_for_so_much_work(steps: int, points: int) -> None:
    assert filling._points(steps) == points


def test_all_places_are_charged_where_there_are_not_too_many(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kinds = [kind("a", 7, 5, 3, 2), kind("b", 5, 3, 2, 9)]
    lying = fitting(40, 30, [way for k in kinds for way in k.ways], KNIFE)
    found = states(40, 30, lying, KNIFE)
    assert found is not None
    for most, points in ((found * 2, None), (found * 2 - 1, filling.COARSE_POINTS)):
        monkeypatch.setattr(filling, "MOST_CHARGED", most)
        assert filling._points_to_charge((40, 30), kinds, KNIFE) == points
    assert filling._points_to_charge((4, 2), kinds, KNIFE) is None
    monkeypatch.setattr(filling, "states", lambda *asked: None)
    assert filling._points_to_charge((40, 30), kinds, KNIFE) == filling.COARSE_POINTS


def test_limits_that_area_alone_keeps_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 5 by 5 on 11 by 10 there is room for four by area; whoever may cut four is not limited."""
    asked: list[tuple[str, list[int]]] = []

    def told(name: str, answer: Filled | None) -> Any:
        def fill(size: Any, kinds: list[Kind], cutter: Cutter, origin: Any, work: Work) -> Any:
            asked.append((name, [k.count for k in kinds]))
            return answer

        return fill

    monkeypatch.setattr(filling, "_freely", told("freely", NOTHING))
    monkeypatch.setattr(filling, "_within_limits", told("within", NOTHING))
    small = kind("b", 3, 2, 1, 99)
    for count, name in ((4, "freely"), (5, "freely"), (3, "within")):
        fill_sheet((11, 10), [kind("a", 5, 5, 9, count), small], KNIFE)
        assert asked.pop() == (name, [count, 99 if name == "freely" else 18])
    fill_sheet((11, 10), [kind("a", 5, 5, 9, 1), kind("c", 5, 5, 9, 50), Kind((), 4, 7)], KNIFE)
    assert asked.pop() == ("within", [1, 4, 0])
    monkeypatch.setattr(filling, "_freely", told("freely", None))
    fill_sheet((11, 10), [kind("a", 5, 5, 9, 50)], KNIFE)
    assert asked == [("freely", [50]), ("within", [4])]


def test_work_is_that_of_the_normal_effort_unless_it_is_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    works: list[Work] = []

    def told(size: Any, kinds: Any, cutter: Any, origin: Any, work: Work) -> Filled:
        works.append(work)
        return NOTHING

    monkeypatch.setattr(filling, "_freely", told)
    mine = Work(77)
    fill_sheet((11, 10), [kind("a", 5, 5, 9, 9)], KNIFE, work=mine)
    fill_sheet((11, 10), [kind("a", 5, 5, 9, 9)], KNIFE)
    assert works[0] is mine
    assert works[1].most == NORMAL_STEPS


@pytest.mark.parametrize(
    ("most", "places", "exact"),
    [
        (10, 50_000, True), (10, 50_001, False), (200_000, 100_000, True),
        (200_000, 100_001, False), (200_000, None, False),
    ],
)  # fmt: skip
def test_few_places_are_always_looked_at_and_more_for_more_work(
    monkeypatch: pytest.MonkeyPatch, most: int, places: int | None, exact: bool
) -> None:
    monkeypatch.setattr(filling, "states", lambda *asked: places)
    told: list[int] = []
    real = filling.Pricer

    def pricer(*asked: Any) -> Any:
        told.append(asked[-1])
        return real(*asked)

    monkeypatch.setattr(filling, "Pricer", pricer)
    found = fill_sheet((11, 10), [kind("a", 5, 5, 9, 9)], KNIFE, work=Work(most))
    assert (found.value, found.bound) == (36, 36)
    assert (found.tree.x_nm, found.tree.y_nm) == (0, 0)
    assert told == ([] if exact else [filling._points(most)])


def test_within_limits_a_layout_begins_at_the_corner_unless_another_is_named() -> None:
    kinds = [kind("a", 5, 5, 9, 1), kind("b", 5, 4, 7, 2)]
    found = fill_sheet((11, 10), kinds, KNIFE)
    assert (found.value, found.bound) == (23, 23)
    assert (found.tree.x_nm, found.tree.y_nm) == (0, 0)
    elsewhere = fill_sheet((11, 10), kinds, KNIFE, (3, 4))
    assert (elsewhere.value, elsewhere.tree.x_nm, elsewhere.tree.y_nm) == (23, 3, 4)
