"""What leaves the stock costs what the books say, and nothing of it is lost."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.ledger import VALUATIONS, Draw, OpenLot, draw, draw_chosen

STEP = Decimal("0.0001")


class Shelf:
    """Lots with what was drawn from them, kept by hand."""

    def __init__(self, valuation: str, step: Decimal = STEP) -> None:
        self.lots: list[OpenLot] = []
        self.valuation, self.step, self.sold = valuation, step, Decimal(0)

    def buy(self, quantity: int, each: str) -> None:
        self.lots.append(OpenLot(len(self.lots), quantity, quantity * Decimal(each)))

    def sell(self, quantity: int, chosen: dict[int, int] | None = None) -> None:
        if chosen is None:
            draws = draw(self.lots, quantity, self.step, self.valuation)
        else:
            draws = draw_chosen(self.lots, chosen, self.step)
        self.take(draws)

    def value_by(self, valuation: str) -> None:
        """Go over to another valuation, as the shop does: what is here stays at its average."""
        if self.valuation == "average" and valuation == "fifo":
            self.lots = [replace(lot, pooled=True) for lot in self.lots]
        self.valuation = valuation

    def take(self, draws: list[Draw]) -> None:
        for row in draws:
            lot = self.lots[row.lot]
            self.lots[row.lot] = replace(
                lot, left=lot.left - row.quantity, cost_left=lot.cost_left - row.cost
            )
            self.sold += row.cost

    @property
    def left(self) -> Decimal:
        return sum((lot.cost_left for lot in self.lots), Decimal(0))


def openstax(shelf: Shelf) -> Shelf:
    """Buy 150 at 21, sell 120, buy 225 at 27, sell 180, buy 210 at 33."""
    shelf.buy(150, "21")
    shelf.sell(120)
    shelf.buy(225, "27")
    shelf.sell(180)
    shelf.buy(210, "33")
    return shelf


def test_first_in_first_out_of_the_textbook() -> None:
    # OpenStax, Principles of Accounting, vol. 1: cost of sales 7,200, stock 8,955.
    shelf = openstax(Shelf("fifo"))
    assert (shelf.sold, shelf.left) == (7200, 8955)


def test_moving_average_of_the_textbook() -> None:
    # OpenStax, same: exactly 7,252.94 and 8,902.06 (the book rounds its unit costs: 7,253; 8,902).
    shelf = openstax(Shelf("average"))
    assert (round(shelf.sold, 2), round(shelf.left, 2)) == (Decimal("7252.94"), Decimal("8902.06"))
    assert shelf.sold + shelf.left == 16155


def test_each_lot_chosen_of_the_textbook() -> None:
    # OpenStax, same, one lot chosen each time: cost of sales 7,260, stock 8,895. 120 of the first;
    # of the second sale 20 of the first lot and 160 of the second.
    shelf = Shelf("fifo")
    shelf.buy(150, "21")
    shelf.sell(120, {0: 120})
    shelf.buy(225, "27")
    shelf.sell(180, {0: 20, 1: 160})
    shelf.buy(210, "33")
    assert (shelf.sold, shelf.left) == (7260, 8895)


def test_last_in_first_out_is_not_offered() -> None:
    # IAS 2: first in first out or weighted average, never last in first out.
    assert [key for key, _ in VALUATIONS] == ["fifo", "average"]


def test_a_lot_gives_no_more_than_it_has() -> None:
    shelf = Shelf("fifo")
    shelf.buy(3, "1")
    with pytest.raises(DomainError, match="There is 3 of that lot and 4"):
        shelf.sell(4, {0: 4})
    with pytest.raises(DomainError, match="There is 0 of that lot"):
        shelf.sell(4, {7: 4})


def costs_of(shelf: Shelf, *quantities: int) -> list[Decimal]:
    costs = []
    for quantity in quantities:
        before = shelf.sold
        shelf.sell(quantity)
        costs.append(shelf.sold - before)
    return costs


def test_after_the_average_a_later_pair_of_lots_costs_10_and_30_not_20_and_20() -> None:
    shelf = Shelf("average")
    shelf.buy(1, "10")
    shelf.buy(1, "30")
    assert costs_of(shelf, 1) == [20]
    shelf.value_by("fifo")
    shelf.buy(1, "10")
    shelf.buy(1, "30")
    # What is left of the first pair at their average, then each of the second by itself.
    assert costs_of(shelf, 1, 1, 1) == [20, 10, 30]


def test_lots_of_the_average_stay_one_pool_however_they_are_taken() -> None:
    shelf = Shelf("average")
    shelf.buy(10, "10")
    shelf.buy(10, "30")
    assert costs_of(shelf, 6) == [120]
    shelf.value_by("fifo")
    shelf.buy(4, "50")
    assert costs_of(shelf, 5, 3, 7, 2) == [100, 60, 20 * 6 + 50, 100]
    assert shelf.left == 50


def test_cost_without_a_quantity_is_carried_by_the_oldest_lots_there_are() -> None:
    # A lot emptied at more than it cost, as a valuation before this rule left it.
    lots = [OpenLot(1, 0, Decimal(-10)), OpenLot(2, 1, Decimal(4)), OpenLot(3, 2, Decimal(30))]
    assert draw(lots, 2, STEP) == [Draw(2, 1, Decimal(8)), Draw(3, 1, Decimal(8))]
    lots = [OpenLot(1, 0, Decimal(6)), OpenLot(2, 2, Decimal(4)), OpenLot(3, 2, Decimal(30))]
    assert draw(lots, 3, STEP) == [Draw(2, 2, Decimal(10)), Draw(3, 1, Decimal(15))]
    # A lot of which more cost went out than was on it.
    lots = [OpenLot(1, 2, Decimal(-2)), OpenLot(2, 2, Decimal(10)), OpenLot(3, 1, Decimal(7))]
    assert draw(lots, 3, STEP) == [Draw(1, 2, Decimal(4)), Draw(2, 1, Decimal(2))]


@pytest.mark.parametrize(("taken", "cost"), [(1, "3.3333"), (2, "6.6666"), (3, "10")])
def test_a_share_is_rounded_down_and_the_last_takes_all(taken: int, cost: str) -> None:
    assert draw([OpenLot(7, 3, Decimal(10))], taken, STEP) == [Draw(7, taken, Decimal(cost))]


def test_the_average_is_shared_over_the_lots_it_leaves() -> None:
    lots = [OpenLot(1, 1, Decimal(1)), OpenLot(2, 2, Decimal(1)), OpenLot(3, 3, Decimal(8))]
    # 10 for 6; five of them cost 8.3333, shared 1 : 2 : 2.
    assert draw(lots, 5, STEP, "average") == [
        Draw(1, 1, Decimal("1.6666")), Draw(2, 2, Decimal("3.3333")), Draw(3, 2, Decimal("3.3334")),
    ]  # fmt: skip
    with pytest.raises(DomainError, match="There is 6 here and 7 is wanted"):
        draw(lots, 7, STEP)
    assert draw(lots, 0, STEP) == []


moves = st.lists(
    st.tuples(st.booleans(), st.integers(1, 40), st.integers(0, 999_999)), min_size=1, max_size=30
)


@given(moves, st.lists(st.sampled_from(["fifo", "average"]), min_size=30, max_size=30))
def test_nothing_is_lost_whatever_the_valuation_and_when_it_changes(
    rows: list[tuple[bool, int, int]], valuations: list[str]
) -> None:
    shelf, paid, here = Shelf("fifo"), Decimal(0), 0
    for (buys, quantity, cost), valuation in zip(rows, valuations, strict=False):
        shelf.value_by(valuation)
        if buys:
            amount = Decimal(cost).scaleb(-4)
            shelf.lots.append(OpenLot(len(shelf.lots), quantity, amount))
            paid += amount
            here += quantity
        elif quantity <= here:
            shelf.sell(quantity)
            here -= quantity
        assert shelf.sold + shelf.left == paid
        assert sum(lot.left for lot in shelf.lots) == here
        if not here:
            assert shelf.left == 0
