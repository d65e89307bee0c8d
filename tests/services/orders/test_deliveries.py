"""From the shelf to the customer and back, in parts: nothing leaves that is not there."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE
from app.models import Lot, Movement, Order
from app.services.bench.batches import begin_batch, finish_batch
from app.services.orders import deliveries, orders, shelf
from app.services.orders.orders import LineAsked
from app.services.orders.standing import Standing, standings
from app.services.planning.requirements import needs
from app.services.shop.settings import channels
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    made = Bench(session)
    stock.receive(session, made.sheet, 30, Decimal("24.00"), DAY)
    stock.receive(session, made.card_sheet, 10, Decimal("12.00"), DAY)
    stock.receive(session, made.thread, 50 * METRE, Decimal("5.00"), DAY)
    stock.receive(session, made.cord, 50 * METRE, Decimal("12.00"), DAY)
    stock.receive(session, made.beads, 120, Decimal("12.00"), DAY)
    return made


def on_the_shelf(session: Session, bench: Bench, number: int, cost: str = "10") -> Lot:
    return stock.receive(session, bench.variant, number, Decimal(cost) * number, DAY, kind="made")


def only(session: Session, order: Order) -> Standing:
    [one] = standings(session, [order]).values()
    return one


def wanted(session: Session, bench: Bench) -> int:
    found = needs(session, DAY).to_make.get(stock.item_key(bench.variant))
    return found.short if found else 0


def test_part_is_set_aside_and_nobody_else_gets_it(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 3)
    first, other = bench.agreed(quantity=5), bench.agreed(quantity=2, days=3)
    assert wanted(session, bench) == 4
    assert shelf.set_aside(session, first, DAY) == 3
    assert stock.on_hand(session, bench.variant) == 0
    assert (only(session, first).set_aside, only(session, first).missing) == (3, 2)
    # What is set aside is wanted no more, and does for no other order.
    assert wanted(session, bench) == 4
    with pytest.raises(shelf.NotThereError, match="0 of 2"):
        orders.move_order(session, other, "ready", DAY, None)
    assert shelf.set_aside(session, first, DAY) == 0
    assert shelf.put_back(session, first, DAY) == 3
    orders.move_order(session, other, "ready", DAY, None)
    assert stock.on_hand(session, bench.variant) == 1
    assert check_books(session) == []


def test_delivered_in_parts_at_what_each_cost(session: Session, bench: Bench) -> None:
    cheap, dear = on_the_shelf(session, bench, 2, "10"), on_the_shelf(session, bench, 4, "13")
    order = bench.agreed(quantity=5)
    [line] = order.lines
    first = deliveries.deliver(session, order, {line.id: 3}, DAY, "to the door")
    assert first is not None
    assert order.state == "accepted"
    assert (only(session, order).delivered, only(session, order).outstanding) == (3, 2)
    [one] = deliveries.deliveries(session, order)
    assert (one.number, [(n, lot.parent_id) for _, n, lot in one.rows]) == (
        3, [(2, cheap.id), (1, dear.id)],
    )  # fmt: skip
    sold = session.scalars(select(Movement).where(Movement.kind == "sold")).all()
    assert sum(m.cost for m in sold) == -33
    deliveries.deliver(session, order, {line.id: 2}, DAY)
    assert (order.state, order.closed_at is not None) == ("delivered", True)
    assert stock.on_hand(session, bench.variant) == 1
    assert check_books(session) == []


@pytest.mark.parametrize(
    ("quantity", "says"),
    [(0, "Say how many"), (-1, "still to deliver"), (6, "5 of it are still to deliver"),
     (4, "3 of 4 Plain journal, Plain are there")],
)  # fmt: skip
def test_no_more_is_delivered_than_there_is(
    session: Session, bench: Bench, quantity: int, says: str
) -> None:
    on_the_shelf(session, bench, 3)
    order = bench.agreed(quantity=5)
    with pytest.raises(DomainError, match=says):
        deliveries.deliver(session, order, {order.lines[0].id: quantity}, DAY)
    assert stock.on_hand(session, bench.variant) == 3
    assert deliveries.deliveries(session, order) == []


def test_two_lines_of_one_journal_do_not_share_what_is_there(
    session: Session, bench: Bench
) -> None:
    on_the_shelf(session, bench, 3)
    order = orders.log_order(
        session, customer_name="Two lines", channel=channels(session)[0], wanted_by=DAY,
        lines=[LineAsked(bench.variant, n, Decimal(40), asked) for n, asked in ((2, "A"), (2, ""))],
        logged_on=DAY,
    )  # fmt: skip
    orders.agree_order(session, order, DAY)
    first, second = order.lines
    with pytest.raises(DomainError, match="1 of 2"):
        deliveries.deliver(session, order, {first.id: 2, second.id: 2}, DAY)
    deliveries.deliver(session, order, {first.id: 2, second.id: 1}, DAY)
    known = standings(session, [order])
    assert [known[line.id].delivered for line in order.lines] == [2, 1]


def test_a_delivery_that_did_not_happen_is_taken_back(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 5)
    order = bench.agreed(quantity=5)
    orders.move_order(session, order, "ready", DAY, None)
    orders.move_order(session, order, "delivered", DAY, None)
    assert only(session, order).delivered == 5
    orders.move_order(session, order, "ready", DAY, None)
    assert (only(session, order).set_aside, only(session, order).delivered) == (5, 0)
    assert order.closed_at is None
    [line] = order.lines
    part = deliveries.deliver(session, order, {line.id: 2}, DAY)
    assert part is not None
    assert order.state == "ready"
    deliveries.take_back_delivery(session, order, part)
    with pytest.raises(DomainError, match="taken back already"):
        deliveries.take_back_delivery(session, order, part)
    orders.move_order(session, order, "in progress", DAY, None)
    assert stock.on_hand(session, bench.variant) == 5
    assert check_books(session) == []


def test_brought_back_onto_the_shelf_or_lost_replaced_or_not(
    session: Session, bench: Bench
) -> None:
    on_the_shelf(session, bench, 4, "12.50")
    order = bench.agreed(quantity=4)
    orders.move_order(session, order, "ready", DAY, None)
    orders.move_order(session, order, "delivered", DAY, None)
    [line] = order.lines
    orders.take_payment(session, order, Decimal(160), DAY, "cash")
    deliveries.bring_back(session, line, 1, DAY, "wrong colour", sound=True, replaced=False)
    assert stock.holdings(session)[stock.item_key(bench.variant)] == stock.Holding(
        1, Decimal("12.50")
    )
    assert (order.total, order.balance, order.state) == (120, -40, "delivered")
    deliveries.bring_back(session, line, 1, DAY, "a page torn", sound=False, replaced=True)
    assert stock.on_hand(session, bench.variant) == 1
    assert (order.state, only(session, order).missing) == ("in progress", 1)
    assert wanted(session, bench) == 0
    with pytest.raises(DomainError, match="has 2 of it"):
        deliveries.bring_back(session, line, 3, DAY, "all of it", sound=True, replaced=False)
    with pytest.raises(DomainError, match="why they came back"):
        deliveries.bring_back(session, line, 1, DAY, "  ", sound=True, replaced=False)
    [found] = deliveries.deliveries(session, order)
    with pytest.raises(DomainError, match="brought back since"):
        deliveries.take_back_delivery(session, order, found.delivery)
    orders.move_order(session, order, "ready", DAY, None)
    orders.move_order(session, order, "delivered", DAY, None)
    assert (only(session, order).delivered, line.wanted) == (3, 3)
    assert check_books(session) == []


def test_closed_with_what_was_delivered(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 4)
    order = bench.agreed(quantity=5)
    with pytest.raises(DomainError, match="cancel the order instead"):
        deliveries.close_short(session, order, DAY)
    [line] = order.lines
    deliveries.deliver(session, order, {line.id: 3}, DAY)
    shelf.set_aside(session, order, DAY)
    for state in ("cancelled", "enquiry"):
        with pytest.raises(DomainError, match="3 of it are delivered already"):
            orders.move_order(session, order, state, DAY, None)
    assert deliveries.close_short(session, order, DAY) == 2
    assert (order.state, order.total) == ("delivered", 120)
    assert stock.on_hand(session, bench.variant) == 1
    assert wanted(session, bench) == 0
    assert check_books(session) == []


def test_a_batch_made_for_an_order_is_set_aside_for_it(session: Session, bench: Bench) -> None:
    order = bench.agreed(quantity=4)
    [line] = order.lines
    batch = begin_batch(session, {bench.variant: 6}, DAY, {line: 4})
    assert [(x.quantity, x.order_line_id) for x in batch.lines] == [(4, line.id), (2, None)]
    finish_batch(session, batch, {batch.lines[0].id: 3}, Decimal(300), DAY)
    assert stock.on_hand(session, bench.variant) == 2
    assert (only(session, order).set_aside, only(session, order).missing) == (3, 1)
    [lot] = shelf.lots_aside(session, order)
    assert session.get_one(Lot, lot.parent_id).batch_id == batch.id
    # The shelf does for the last one.
    orders.move_order(session, order, "ready", DAY, None)
    assert stock.on_hand(session, bench.variant) == 1
    assert check_books(session) == []


def test_what_was_made_for_an_order_called_off_goes_on_the_shelf(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed(quantity=4)
    batch = begin_batch(session, {bench.variant: 4}, DAY, {order.lines[0]: 9})
    orders.move_order(session, order, "cancelled", DAY, None)
    finish_batch(session, batch, {}, Decimal(300), DAY)
    assert stock.on_hand(session, bench.variant) == 4
    assert check_books(session) == []


def test_an_enquiry_again_keeps_the_lines_that_have_a_history(
    session: Session, bench: Bench
) -> None:
    on_the_shelf(session, bench, 4)
    order = bench.agreed(quantity=4)
    [line] = order.lines
    shelf.set_aside(session, order, DAY)
    orders.move_order(session, order, "enquiry", DAY, None)
    assert stock.on_hand(session, bench.variant) == 4
    same = {"channel": order.channel, "wanted_by": order.wanted_by, "note": "", "version": None}
    other = bench.begin("Another", leaf_height=150_000_000).current.variants[0]
    orders.change_order(
        session, order,
        lines=[LineAsked(bench.variant, 2, Decimal(41)), LineAsked(other, 1, Decimal(9))], **same,
    )  # fmt: skip
    assert [(x.id == line.id, x.quantity) for x in order.lines] == [(True, 2), (False, 1)]
    with pytest.raises(DomainError, match="set aside for this order once"):
        orders.change_order(session, order, lines=[LineAsked(other, 1, Decimal(9))], **same)


def test_what_is_set_aside_is_undone_on_the_order_alone(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 4)
    order = bench.agreed(quantity=4)
    shelf.set_aside(session, order, DAY)
    for movement in session.scalars(select(Movement).where(Movement.kind == "set aside")):
        with pytest.raises(DomainError, match="on its page"):
            stock.reverse(session, movement, "by hand")


def test_at_the_average_the_books_agree_as_well(session: Session, bench: Bench) -> None:
    from app.services.shop.settings import the_shop

    the_shop(session).valuation = "average"
    on_the_shelf(session, bench, 2, "10")
    on_the_shelf(session, bench, 2, "20")
    order = bench.agreed(quantity=3)
    shelf.set_aside(session, order, DAY)
    assert stock.holdings(session)[stock.item_key(bench.variant)].cost == 15
    shelf.put_back(session, order, DAY)
    assert stock.holdings(session)[stock.item_key(bench.variant)] == stock.Holding(4, Decimal(60))
    orders.move_order(session, order, "ready", DAY, None)
    orders.move_order(session, order, "delivered", DAY, None)
    assert stock.holdings(session)[stock.item_key(bench.variant)] == stock.Holding(1, Decimal(15))
    assert check_books(session) == []
