"""The linear and the integer program over layouts: rows, columns and what is read out of them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from app.core.cutting.effort import Work
from app.core.cutting.many_sheets.integer_master import IntegerMaster, least_money
from app.core.cutting.many_sheets.linear_master import Column, LinearMaster
from app.core.cutting.model import Break, SheetOffer, Supply, Wanted
from app.core.cutting.tree import Part
from app.core.paper import Piece, Sheet

SHEET = Sheet("s", 100, 100)


def want(*counts: int) -> list[Wanted]:
    return [Wanted(f"p{i}", Piece(f"p{i}", 10, 10), n) for i, n in enumerate(counts)]


def column(sheet: int, *counts: int) -> Column:
    return Column(sheet, counts, lambda: Part(0, 0, 100, 100), lambda: 0)


def offer(
    price: int | dict[int, int], pack: int = 1, limit: int | None = None, key: str = "o"
) -> SheetOffer:
    prices = {1: price} if isinstance(price, int) else price
    breaks = tuple(Break(at, each) for at, each in prices.items())
    return SheetOffer(key, SHEET, pack, breaks, limit=limit)


def supply(*offers: SheetOffer, on_hand: int = 0, value: float = 1.0) -> Supply:
    return Supply(SHEET, on_hand, value, offers)


@pytest.mark.parametrize(
    ("offers", "penalty", "limited"),
    [
        # A thousand times the dearest sheet at its best price: 30 for three, 8 for one.
        ([offer({1: 36, 4: 30}, 3)], 10_000.0, []), ([offer(8), offer(30, 3)], 10_000.0, []),
        ([offer(0)], 1_000.0, []), ([], 1_000.0, []),
        # Of seven that may be bought in packs of three, two packs can be.
        ([offer(30, 3, 7)], 10_000.0, [(0, 6.0)]),
        ([offer(8), offer(30, 3, 6), offer(1, 1, 1)], 10_000.0, [(1, 6.0), (2, 1.0)]),
    ],
)  # fmt: skip
def test_columns_of_the_linear_program(
    offers: list[SheetOffer], penalty: float, limited: list[tuple[int, float]]
) -> None:
    master = LinearMaster(want(5, 7), [supply(*offers)], Work(10**6))
    assert (master.penalty, master.limited) == (penalty, limited)
    assert master.first == len(offers) + 2


def test_what_is_short_and_what_is_cut_in_the_linear_program() -> None:
    master = LinearMaster(want(5, 7), [supply(offer(8), on_hand=1)], Work(10**6))
    master.solve()
    assert master.short() == pytest.approx(12)
    master.add(column(0, 2, 0))
    duals = master.solve()
    assert master.short() == pytest.approx(7)
    assert master.amounts() == pytest.approx([2.5])
    # A sheet costs 8 and gives two; of the other kind there is nothing but the penalty.
    assert duals.sheets == pytest.approx([8])
    assert duals.pieces == pytest.approx([4, master.penalty])
    assert duals.limits == 0
    master.add(column(0, 0, 7))
    master.solve()
    assert master.short() == pytest.approx(0)
    assert master.amounts() == pytest.approx([2.5, 1])


def test_a_limit_on_buying_is_worth_what_it_keeps_away() -> None:
    offers = [offer(8, limit=2, key="few"), offer(10, key="many")]
    master = LinearMaster(want(6), [supply(*offers)], Work(10**6))
    master.add(column(0, 2))
    duals = master.solve()
    assert duals.pieces == pytest.approx([5])
    assert duals.limits == pytest.approx(-2 * (10 - 8))


class Solved:
    """A solver that has these values for its columns."""

    def __init__(self, values: list[float]) -> None:
        self.values = values

    def getInfo(self) -> Any:  # noqa: N802 - as the solver names it
        return SimpleNamespace(primal_solution_status=2)

    def getSolution(self) -> Any:  # noqa: N802
        return SimpleNamespace(col_value=self.values)


@pytest.mark.parametrize(
    ("cut", "here", "packs", "taken"),
    [
        # Five cut and two here: three are needed, of a free pack of two that are two packs.
        (5, 2, 9, 2), (5, 2, 2, 2), (5, 5, 4, 0), (5, 6, 1, 0), (5, 0, 3, 3), (6, 0, 3, 3),
        (1, 0, 7, 1),
    ],
)  # fmt: skip
def test_no_more_of_what_costs_nothing_is_taken_than_is_cut(
    cut: int, here: int, packs: int, taken: int
) -> None:
    free = offer(0, 2)
    master = IntegerMaster([column(0, 1)], want(9), [supply(free, on_hand=here)], Work(10**6))
    master.model = Solved([cut + 1e-9, packs - 1e-9])  # type: ignore[assignment]
    found = master._read()
    assert found is not None
    assert [n for _, n in found.repeats] == [cut]
    assert [(o.key, n, cost) for o, n, cost in found.packs] == ([("o", taken, 0)] if taken else [])


def test_what_is_spare_is_counted_size_by_size() -> None:
    sizes = [supply(offer(0, key="a"), on_hand=1), supply(offer(0, key="b"), offer(3, key="c"))]
    columns = [column(0, 1), column(1, 1)]
    master = IntegerMaster(columns, want(9), sizes, Work(10**6))
    # Of the first size four are cut, one is here and five are taken: two too many. Of the second
    # six are cut, three taken for nothing and four bought: one too many.
    master.model = Solved([4, 6, 5, 3, 4])  # type: ignore[assignment]
    found = master._read()
    assert found is not None
    assert [(o.key, n, cost) for o, n, cost in found.packs] == [
        ("a", 3, 0), ("b", 2, 0), ("c", 4, 12),
    ]  # fmt: skip


def test_free_from_so_many_packs_means_so_many() -> None:
    # Free from three packs on: of five taken where one would do, three are kept.
    free = offer({1: 5, 3: 0})
    master = IntegerMaster([column(0, 1)], want(9), [supply(free)], Work(10**6))
    master.model = Solved([1, 0, 0, 5, 1])  # type: ignore[assignment]
    found = master._read()
    assert found is not None
    assert [(n, cost) for _, n, cost in found.packs] == [(3, 0)]


@pytest.mark.parametrize(
    ("need", "worth", "offers", "money"),
    [
        # Seven at one worth two a sheet are four sheets, in packs of three two packs.
        (7.0, 2.0, [offer(30, 3)], 60), (6.0, 2.0, [offer(30, 3)], 30), (0.0, 2.0, [offer(30)], 0),
        (7.0, 0.0, [offer(30)], 0), (7.0, 2.0, [offer(9), offer(30, 3)], 36),
        (7.0, 2.0, [offer({1: 9, 4: 5})], 20), (7.0, 1.0, [offer(9, limit=2)], 0),
    ],
)  # fmt: skip
def test_least_money_for_whole_packs(
    need: float, worth: float, offers: list[SheetOffer], money: float
) -> None:
    assert least_money(need, [worth], [supply(*offers)], Work(10**6)) == pytest.approx(money)
