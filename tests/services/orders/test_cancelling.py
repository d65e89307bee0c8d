"""Cancelled and undone: deposits kept, given back or owed, mistakes answered, stale pages told."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE
from app.models import Order
from app.services.orders import orders
from app.services.orders.orders import cancel_order, mark_mistaken, take_payment
from app.services.purchasing import purchases as purchasing
from app.services.purchasing.buy_list import buy_list
from app.services.shop.settings import StaleError
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench, offer, supplier


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


@pytest.fixture
def paid(session: Session, bench: Bench) -> Order:
    """An order of 160 of which 20 was paid."""
    order = bench.agreed()
    take_payment(session, order, Decimal(20), DAY, "cash")
    return order


@pytest.mark.parametrize(
    ("deposit", "paid_after", "balance", "receipts"),
    [("returned", 0, 0, 2), ("kept", 20, 0, 1), ("owed", 20, -20, 1)],
)
def test_what_becomes_of_a_deposit_is_written_down(
    session: Session, paid: Order, deposit: str, paid_after: int, balance: int, receipts: int
) -> None:
    cancel_order(session, paid, DAY, paid.version, deposit=deposit, how="cash")
    assert (paid.state, paid.paid, paid.balance) == ("cancelled", paid_after, balance)
    assert [p.receipt_number for p in paid.payments] == list(range(1, receipts + 1))
    assert paid.deposit_kept == (deposit == "kept")
    assert buy_list(session, DAY).lines == []
    orders.move_order(session, paid, "accepted", DAY, paid.version)
    assert (paid.deposit_kept, paid.balance) == (False, 160 - paid_after)
    assert check_books(session) == []


def test_a_page_that_showed_another_sum_gives_nothing_back(session: Session, paid: Order) -> None:
    take_payment(session, paid, Decimal(22), DAY, "card")
    with pytest.raises(DomainError, match=r"€42\.00 was paid in all"):
        cancel_order(
            session, paid, DAY, paid.version, deposit="returned", how="cash", paid=Decimal(20)
        )
    assert (paid.state, paid.paid) == ("accepted", 42)
    cancel_order(session, paid, DAY, paid.version, deposit="returned", paid=Decimal(42))
    assert paid.paid == 0


def test_nothing_paid_is_nothing_kept(session: Session, bench: Bench) -> None:
    order = bench.agreed()
    cancel_order(session, order, DAY, order.version, deposit="kept")
    assert (order.deposit_kept, order.balance, order.payments) == (False, 0, [])
    with pytest.raises(DomainError, match="what becomes of the deposit"):
        cancel_order(session, order, DAY, order.version, deposit="eaten")


def test_a_payment_written_by_mistake_is_answered_once(session: Session, paid: Order) -> None:
    [payment] = paid.payments
    answer = mark_mistaken(session, payment, DAY)
    assert (answer.amount, answer.how, answer.reverses_id) == (-20, "cash", payment.id)
    assert (paid.paid, paid.balance) == (0, 160)
    for one, words in ((payment, "marked as a mistake already"), (answer, "answers a mistake")):
        with pytest.raises(DomainError, match=words):
            mark_mistaken(session, one, DAY)
    assert [p.receipt_number for p in paid.payments] == [1, 2]
    assert check_books(session) == []


def test_a_mistake_that_was_given_back_since_is_refused(session: Session, paid: Order) -> None:
    take_payment(session, paid, Decimal(-15), DAY, "cash")
    with pytest.raises(DomainError, match=r"€15\.00 of it was given back since"):
        mark_mistaken(session, paid.payments[0], DAY)


def test_a_kept_deposit_that_was_a_mistake_is_not_kept(session: Session, paid: Order) -> None:
    cancel_order(session, paid, DAY, paid.version, deposit="kept")
    mark_mistaken(session, paid.payments[0], DAY)
    assert (paid.deposit_kept, paid.paid, paid.balance) == (False, 0, 0)


def test_an_order_keeps_the_day_it_was_asked_on(session: Session, bench: Bench) -> None:
    order = bench.order()
    assert order.logged_on == DAY


def test_a_cancelled_purchase_is_a_draft_again_and_what_came_stays(
    session: Session, bench: Bench
) -> None:
    seller = supplier(session, "Seller")
    offer(session, bench.thread, "5", 50 * METRE, by=seller)
    purchase = purchasing.begin_purchase(session, seller)
    line = purchasing.add_line(session, purchase, bench.thread, 3, DAY)
    seen = purchase.version
    purchasing.send_purchase(session, purchase, DAY)
    with pytest.raises(StaleError):
        purchasing.cancel_purchase(session, purchase, seen)
    purchasing.cancel_purchase(session, purchase, purchase.version)
    purchasing.draft_again(session, purchase)
    assert (purchase.state, purchase.sent_on, purchase.expected_on) == ("draft", None, None)
    purchasing.send_purchase(session, purchase, DAY)
    receipt = purchasing.receive_purchase(session, purchase, {line.id: 1}, Decimal(0), DAY)
    purchasing.cancel_purchase(session, purchase, purchase.version)
    with pytest.raises(DomainError, match="Something of it has come"):
        purchasing.draft_again(session, purchase)
    assert purchasing.standing_receipts(purchase) == [receipt]


def test_a_receipt_that_was_taken_back_has_not_come(session: Session, bench: Bench) -> None:
    seller = supplier(session, "Seller")
    offer(session, bench.thread, "5", 50 * METRE, by=seller)
    purchase = purchasing.begin_purchase(session, seller)
    line = purchasing.add_line(session, purchase, bench.thread, 3, DAY)
    purchasing.send_purchase(session, purchase, DAY)
    receipt = purchasing.receive_purchase(session, purchase, {line.id: 1}, Decimal(0), DAY)
    purchasing.cancel_purchase(session, purchase)
    purchasing.undo_receipt(session, receipt, "mistaken")
    assert purchasing.standing_receipts(purchase) == []
    assert purchase.state == "cancelled"
    purchasing.draft_again(session, purchase)
    assert purchase.state == "draft"
    assert check_books(session) == []
