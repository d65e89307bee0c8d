"""Nothing is handed over that is not there: journals are set aside before an order is ready."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.length import METRE
from app.models import Movement
from app.services.bench.batches import begin_batch
from app.services.orders import orders, shelf
from app.services.orders.orders import LineAsked
from app.services.shop.settings import channels
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def test_an_order_for_five_is_not_ready_with_three(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 3, Decimal("61.00"), DAY, kind="made")
    order = bench.agreed(quantity=5)
    with pytest.raises(shelf.NotThereError) as caught:
        orders.move_order(session, order, "ready", DAY, None)
    name = bench.variant.full_name
    assert caught.value.message == (
        f"3 of 5 {name} are on the shelf. Make the rest in a batch, or book in what was made "
        "without one."
    )
    assert [(one.wanted, one.there, one.missing) for one in caught.value.lacking] == [(5, 3, 2)]
    # Nothing was set aside, and the order is as it was.
    assert order.state == "accepted"
    assert stock.on_hand(session, bench.variant) == 3
    stock.receive(session, bench.variant, 2, Decimal("40.00"), DAY, kind="made")
    orders.move_order(session, order, "ready", DAY, None)
    assert stock.on_hand(session, bench.variant) == 0
    assert shelf.lacking(session, order) == shelf.lacking(session, order)


def test_what_was_made_without_a_batch_is_booked_in_at_the_agreed_cost(
    session: Session, bench: Bench
) -> None:
    stock.receive(session, bench.variant, 1, Decimal("9.00"), DAY, kind="made")
    order = bench.agreed(quantity=3)
    [line] = order.lines
    assert line.unit_cost is not None
    assert shelf.book_in_for(session, order, DAY) == 2
    assert stock.holdings(session)[stock.item_key(bench.variant)] == stock.Holding(
        3, Decimal("9.00") + 2 * line.unit_cost
    )
    assert shelf.book_in_for(session, order, DAY) == 0
    orders.move_order(session, order, "ready", DAY, None)
    notes = {m.note for m in session.query(Movement) if m.kind == "made"}
    assert f"Made without a batch, for order {order.number}" in notes
    # Not ready after all, they are on the shelf: they were made.
    orders.move_order(session, order, "in progress", DAY, None)
    assert stock.on_hand(session, bench.variant) == 3
    assert check_books(session) == []


def test_two_lines_of_one_journal_want_both(session: Session, bench: Bench) -> None:
    lines = [LineAsked(bench.variant, 2, Decimal(40)), LineAsked(bench.variant, 3, Decimal(38))]
    order = orders.log_order(
        session, customer_name="Ada", channel=channels(session)[0], lines=lines, wanted_by=DAY,
        logged_on=DAY, who=None,
    )  # fmt: skip
    orders.agree_order(session, order, DAY)
    stock.receive(session, bench.variant, 4, Decimal("40.00"), DAY, kind="made")
    [one] = shelf.lacking(session, order)
    assert (one.wanted, one.there, one.missing) == (5, 4, 1)
    stock.receive(session, bench.variant, 1, Decimal("10.00"), DAY, kind="made")
    assert shelf.lacking(session, order) == ()
    orders.move_order(session, order, "ready", DAY, None)
    assert stock.on_hand(session, bench.variant) == 0


def test_one_is_and_several_are(session: Session, bench: Bench) -> None:
    order = bench.agreed(quantity=2)
    [none] = shelf.lacking(session, order)
    assert none.says == f"0 of 2 {bench.variant.full_name} are on the shelf"
    stock.receive(session, bench.variant, 1, Decimal("9.00"), DAY, kind="made")
    [one] = shelf.lacking(session, order)
    assert one.says == f"1 of 2 {bench.variant.full_name} is on the shelf"
    assert (one.being_made, one.to_make) == (0, 1)
    for item, amount in ((bench.sheet, 50), (bench.card_sheet, 20), (bench.beads, 500)):
        stock.receive(session, item, amount, Decimal(20), DAY)
    for item in (bench.thread, bench.cord):
        stock.receive(session, item, 100 * METRE, Decimal(20), DAY)
    begin_batch(session, {bench.variant: 3}, DAY)
    [one] = shelf.lacking(session, order)
    assert one.says == f"1 of 2 {bench.variant.full_name} is on the shelf, 3 in the making"
    assert (one.being_made, one.to_make, one.missing) == (3, 0, 1)
