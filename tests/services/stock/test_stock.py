"""On hand is the sum of movements; nothing is lost, nothing falls below nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.models import Movement
from app.services.stock import history as story
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import material, paper, sheet


def test_receive_take_and_the_cost_that_goes_with_it(session: Session) -> None:
    item = sheet(session, paper(session))
    stock.receive(session, item, 3, Decimal("10.00"), DAY)
    stock.receive(session, item, 4, Decimal("20.00"), DAY + timedelta(days=1))
    assert stock.take(session, item, 1, "issued") == Decimal("3.3333")
    assert stock.take(session, item, 3, "issued") == Decimal("6.6667") + Decimal("5.0000")
    assert stock.on_hand(session, item) == 3
    assert stock.holdings(session)[stock.item_key(item)] == stock.Holding(3, Decimal("15.0000"))


def test_the_oldest_lot_goes_first_whenever_it_was_written_down(session: Session) -> None:
    item = material(session, measure="count")
    stock.receive(session, item, 1, Decimal(2), DAY)
    stock.receive(session, item, 1, Decimal(1), DAY - timedelta(days=5))
    assert stock.take(session, item, 1, "issued") == Decimal(1)


def test_too_much_cannot_be_taken(session: Session) -> None:
    item = sheet(session, paper(session))
    stock.receive(session, item, 3, Decimal(1), DAY)
    with pytest.raises(DomainError, match="There is 3 here and 4 is wanted"):
        stock.take(session, item, 4, "issued")
    assert stock.on_hand(session, item) == 3


@pytest.mark.parametrize(("quantity", "cost"), [(0, "1"), (-1, "1"), (1, "-1")])
def test_what_cannot_have_come(session: Session, quantity: int, cost: str) -> None:
    with pytest.raises(DomainError):
        stock.receive(session, sheet(session, paper(session)), quantity, Decimal(cost), DAY)


def test_a_count_that_agrees_writes_nothing(session: Session) -> None:
    item = sheet(session, paper(session))
    stock.receive(session, item, 3, Decimal(1), DAY)
    assert stock.count(session, item, 3, DAY, "") == 0
    assert len(story.history(session, item).movements) == 1


def test_a_count_needs_a_reason_where_it_differs(session: Session) -> None:
    item = sheet(session, paper(session))
    with pytest.raises(DomainError, match="Say why") as caught:
        stock.count(session, item, 3, DAY, " ")
    assert caught.value.field == "why"


def test_less_and_more_than_expected(session: Session) -> None:
    item = sheet(session, paper(session))
    stock.receive(session, item, 10, Decimal("5.00"), DAY)
    assert stock.count(session, item, 7, DAY, "used at the bench") == -3
    assert stock.count(session, item, 9, DAY, "found again") == 2
    held = stock.holdings(session)[stock.item_key(item)]
    assert held == stock.Holding(9, Decimal("4.5000"))
    assert [m.quantity for m in story.history(session, item).movements] == [2, -3, 10]


def test_what_is_found_costs_what_was_not_undone(session: Session) -> None:
    item = sheet(session, paper(session))
    stock.receive(session, item, 10, Decimal(10), DAY)
    slip = stock.receive(session, item, 10, Decimal(1000), DAY)
    stock.reverse(session, slip.movements[0], "a slip")
    stock.count(session, item, 11, DAY, "found again")
    assert stock.holdings(session)[stock.item_key(item)] == stock.Holding(11, Decimal(11))


@pytest.mark.parametrize("why", ["used at the bench", "spoiled", "sold"])
def test_more_than_before_was_not_used(session: Session, why: str) -> None:
    item = sheet(session, paper(session))
    with pytest.raises(DomainError, match="Check the unit") as caught:
        stock.count(session, item, 3, DAY, why)
    assert caught.value.field == "why"


def test_a_count_of_what_moved_meanwhile_is_refused(session: Session) -> None:
    item = sheet(session, paper(session))
    stock.receive(session, item, 10, Decimal(5), DAY)
    with pytest.raises(DomainError, match="while you counted"):
        stock.count(session, item, 8, DAY, "spoiled", expected=9)


def test_a_movement_is_undone_once_by_its_opposite(session: Session) -> None:
    item = sheet(session, paper(session))
    lot = stock.receive(session, item, 10, Decimal(5), DAY)
    [movement] = lot.movements
    undone = stock.reverse(session, movement, "wrong paper")
    assert (undone.quantity, undone.cost, stock.on_hand(session, item)) == (-10, Decimal(-5), 0)
    with pytest.raises(DomainError, match="undone already"):
        stock.reverse(session, movement, "again")
    with pytest.raises(DomainError, match="undoes another"):
        stock.reverse(session, undone, "again")


def test_a_receipt_that_was_used_cannot_be_undone(session: Session) -> None:
    item = sheet(session, paper(session))
    lot = stock.receive(session, item, 10, Decimal(5), DAY)
    stock.take(session, item, 1, "issued")
    with pytest.raises(DomainError, match="taken since"):
        stock.reverse(session, lot.movements[0], "wrong")


def test_emptied_lots_carry_no_cost(session: Session) -> None:
    item = material(session, measure="count")
    for quantity, cost in ((7, "10"), (3, "0.01"), (11, "3.33")):
        stock.receive(session, item, quantity, Decimal(cost), DAY)
    while stock.on_hand(session, item):
        stock.take(session, item, min(4, stock.on_hand(session, item)), "issued")
    assert session.scalar(select(func.sum(Movement.cost))) == 0


@pytest.mark.parametrize(
    "key", ["", "sheet", "sheet-", "sheet-x", "lot-1", "sheet-99999999999", "sheet--1"]
)
def test_keys_that_name_nothing(session: Session, key: str) -> None:
    assert stock.find_item(session, key) is None
