"""Lots redone by hand: first in first out, pools and what they leave."""

from __future__ import annotations

from decimal import Decimal

import pytest

from app.core.errors import DomainError
from app.core.ledger import Draw, OpenLot, draw, draw_chosen

STEP = Decimal("0.0001")


def test_sixty_left_of_two_hundred_bought_at_four_prices() -> None:
    # Textbook data: 40 at 124, 50 at 136, 20 at 142, 90 at 144 are 27,560; 60 are left. First in first
    # out 18,920 went out and 8,640 is left, by the average of 137.80 19,292 and 8,268.
    bought = [(40, 124), (50, 136), (20, 142), (90, 144)]
    lots = [OpenLot(i, n, Decimal(n * each)) for i, (n, each) in enumerate(bought)]
    assert sum(lot.cost_left for lot in lots) == 27_560
    first = draw(lots, 140, STEP)
    assert [(d.lot, d.quantity, d.cost) for d in first] == [
        (0, 40, 4960), (1, 50, 6800), (2, 20, 2840), (3, 30, 4320)
    ]  # fmt: skip
    assert sum(d.cost for d in first) == 18_920
    average = draw(lots, 140, STEP, "average")
    assert [d.quantity for d in average] == [40, 50, 20, 30]
    assert [d.cost for d in average] == [5512, 6890, 2756, 4134]
    assert sum(d.cost for d in average) == 19_292


def test_consigned_goods_of_a_worked_exercise() -> None:
    # Worked exercise: 750 at 100 and 1,500 freight are 102 each; 420 sold leave 33,660 of stock.
    [sold] = draw([OpenLot(1, 750, Decimal(75_000 + 1_500))], 420, STEP)
    assert (sold.cost, 76_500 - sold.cost) == (42_840, 33_660)


def test_a_gift_goes_out_at_nothing_beside_a_pool() -> None:
    lots = [OpenLot(1, 2, Decimal(6), pooled=True), OpenLot(2, 2, Decimal(0))]
    assert draw(lots, 3, STEP) == [Draw(1, 2, Decimal(6)), Draw(2, 1, Decimal(0))]
    # Gifts pooled by the average, and what was bought since at its own 5 each.
    lots = [OpenLot(1, 2, Decimal(0), pooled=True), OpenLot(2, 2, Decimal(10))]
    assert draw(lots, 3, STEP) == [Draw(1, 2, Decimal(0)), Draw(2, 1, Decimal(5))]


def test_half_a_pound_in_a_pool_is_enough_to_stand_alone() -> None:
    lots = [OpenLot(1, 2, Decimal("0.50"), pooled=True), OpenLot(2, 2, Decimal(10))]
    assert draw(lots, 3, STEP) == [Draw(1, 2, Decimal("0.50")), Draw(2, 1, Decimal(5))]


def test_half_a_pound_left_on_an_emptied_lot_goes_with_the_next() -> None:
    lots = [OpenLot(1, 0, Decimal("0.50")), OpenLot(2, 2, Decimal(4)), OpenLot(3, 1, Decimal(9))]
    # 4.50 for two: 2.25 for one of them. The third is not drawn in.
    assert draw(lots, 1, STEP) == [Draw(2, 1, Decimal("2.25"))]
    assert draw(lots, 3, STEP) == [Draw(2, 2, Decimal("4.50")), Draw(3, 1, Decimal(9))]


def test_a_debt_of_half_a_pound_is_paid_by_the_next() -> None:
    lots = [OpenLot(1, 1, Decimal("-0.50")), OpenLot(2, 1, Decimal("0.50")),
            OpenLot(3, 1, Decimal(9))]  # fmt: skip
    # Together nothing for two; that is no debt, so the third keeps its own.
    assert draw(lots, 3, STEP) == [Draw(1, 1, Decimal(0)), Draw(2, 1, Decimal(0)),
                                   Draw(3, 1, Decimal(9))]  # fmt: skip


def test_emptied_lots_give_nothing_and_are_not_named() -> None:
    lots = [OpenLot(1, 0, Decimal(0)), OpenLot(2, 1, Decimal(3)), OpenLot(3, 1, Decimal(5))]
    assert draw(lots, 1, STEP) == [Draw(2, 1, Decimal(3))]
    assert draw(lots, 2, STEP) == [Draw(2, 1, Decimal(3)), Draw(3, 1, Decimal(5))]
    assert draw(lots, 0, STEP) == draw(lots, 0, STEP, "average") == []
    for valuation in ("fifo", "average"):
        with pytest.raises(DomainError, match="There is 2 here and 3 is wanted"):
            draw(lots, 3, STEP, valuation)


def test_all_of_a_chosen_lot_may_be_taken_and_one_more_may_not() -> None:
    lots = [OpenLot(4, 3, Decimal(10)), OpenLot(5, 1, Decimal(7))]
    assert draw_chosen(lots, {4: 3, 5: 1}, STEP) == [
        Draw(4, 3, Decimal(10)), Draw(5, 1, Decimal(7))
    ]  # fmt: skip
    # 10 × 2 ÷ 3 = 6.6666…, rounded down.
    assert draw_chosen(lots, {4: 2}, STEP) == [Draw(4, 2, Decimal("6.6666"))]
    with pytest.raises(DomainError, match="There is 3 of that lot and 4 is wanted"):
        draw_chosen(lots, {4: 4}, STEP)
    with pytest.raises(DomainError, match="There is 0 of that lot and 1 is wanted"):
        draw_chosen(lots, {6: 1}, STEP)
