"""From the shelf to the customer and back, in parts: nothing leaves that is not there."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE
from app.core.states import MovementKind, OrderState
from app.models import Lot, Movement, Order, OrderLine
from app.services.bench.batches import begin_batch, cancel_batch
from app.services.bench.finishing import finish_batch
from app.services.bench.promising import promise
from app.services.orders import deliveries, orders, shelf
from app.services.orders.orders import LineAsked
from app.services.orders.standing import Standing, standings
from app.services.planning.requirements import needs
from app.services.shop.settings import channels
from app.services.stock import ledger as stock
from app.services.stock.history import history
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
        with pytest.raises(DomainError, match="put right on its page"):
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


def of_old(session: Session, bench: Bench, quantity: int, state: str) -> Order:
    """An order whose journals left the shelf itself, as before there were lots of its own."""
    order = bench.agreed(quantity=quantity)
    stock.take(
        session, bench.variant, quantity, MovementKind.SOLD, on=DAY,
        note=f"Order {order.number}", order_id=order.id,
    )  # fmt: skip
    order.state = OrderState(state)
    session.flush()
    return order


def test_orders_of_old_are_taken_over_as_they_are(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 9, "12")
    ready, gone = of_old(session, bench, 3, "ready"), of_old(session, bench, 4, "delivered")
    assert (only(session, ready).set_aside, only(session, gone).delivered) == (3, 4)
    assert (only(session, ready).of_old, only(session, gone).of_old) == (3, 0)
    deliveries.deliver(session, ready, {ready.lines[0].id: 2}, DAY)
    assert (only(session, ready).delivered, only(session, ready).set_aside) == (2, 1)
    deliveries.bring_back(session, gone.lines[0], 1, DAY, "torn", sound=True, replaced=True)
    assert (only(session, gone).delivered, only(session, gone).set_aside) == (3, 0)
    assert stock.holdings(session)[stock.item_key(bench.variant)] == stock.Holding(3, Decimal(36))
    with pytest.raises(DomainError, match="brought back since"):
        deliveries.take_back_last(session, gone)
    orders.move_order(session, ready, "in progress", DAY, None)
    assert stock.on_hand(session, bench.variant) == 4
    assert check_books(session) == []


def test_lines_of_one_journal_share_what_left_for_an_order_of_old(
    session: Session, bench: Bench
) -> None:
    on_the_shelf(session, bench, 9, "12")
    order = of_old(session, bench, 3, "ready")
    order.lines.append(OrderLine(variant=bench.variant, quantity=2, unit_price=Decimal(40)))
    session.flush()
    found = standings(session, [order])
    assert [found[line.id].set_aside for line in order.lines] == [3, 0]
    order.lines[0].quantity = 2
    found = standings(session, [order])
    assert [found[line.id].set_aside for line in order.lines] == [2, 1]


def test_a_return_is_not_undone_in_the_stock(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 4)
    order = bench.agreed(quantity=4)
    deliveries.deliver(session, order, {order.lines[0].id: 4}, DAY)
    for sound in (True, False):
        deliveries.bring_back(session, order.lines[0], 1, DAY, "why", sound=sound, replaced=True)
    shown = history(session, bench.variant)
    for movement in shown.movements:
        if movement.kind in ("returned", "spoiled", "sold", "set aside"):
            assert movement.id not in shown.alone
            with pytest.raises(DomainError, match="belongs to an order"):
                stock.reverse(session, movement, "by hand")


def test_others_instead_make_a_ready_order_wait(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 6)
    order = bench.agreed(quantity=4)
    orders.move_order(session, order, "ready", DAY, None)
    deliveries.deliver(session, order, {order.lines[0].id: 2}, DAY)
    deliveries.bring_back(session, order.lines[0], 1, DAY, "torn", sound=False, replaced=True)
    assert (order.state, only(session, order).missing) == ("in progress", 1)
    assert check_books(session) == []


def test_what_comes_back_costs_what_of_it_is_still_out(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 4, "10")
    order = bench.agreed(quantity=4)
    [line] = order.lines
    deliveries.deliver(session, order, {line.id: 4}, DAY)
    deliveries.bring_back(session, line, 1, DAY, "torn", sound=False, replaced=True)
    on_the_shelf(session, bench, 1, "4")
    deliveries.deliver(session, order, {line.id: 1}, DAY)
    for number in (1, 3):
        deliveries.bring_back(session, line, number, DAY, "all", sound=True, replaced=False)
    moved = session.scalars(select(Movement).where(Movement.kind.in_(("sold", "returned"))))
    assert sum(m.cost for m in moved) == 0
    assert check_books(session) == []
    thirds = bench.agreed(quantity=3)
    other = bench.begin("Another", leaf_height=150_000_000).current.variants[0]
    thirds.lines[0].variant = other
    stock.receive(session, other, 3, Decimal("20.0000"), DAY, kind="made")
    deliveries.deliver(session, thirds, {thirds.lines[0].id: 3}, DAY)
    for _ in range(3):
        deliveries.bring_back(
            session, thirds.lines[0], 1, DAY, "one by one", sound=True, replaced=False
        )
    assert stock.holdings(session)[stock.item_key(other)] == stock.Holding(3, Decimal("20.0000"))


def test_what_came_back_is_not_asked_for_again(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 4)
    order = bench.agreed(quantity=4)
    deliveries.deliver(session, order, {order.lines[0].id: 2}, DAY)
    deliveries.bring_back(session, order.lines[0], 2, DAY, "no", sound=True, replaced=False)
    with pytest.raises(DomainError, match="log another order"):
        orders.move_order(session, order, "enquiry", DAY, None)
    orders.move_order(session, order, "ready", DAY, None)
    orders.move_order(session, order, "delivered", DAY, None)
    with pytest.raises(DomainError, match="before they were delivered"):
        deliveries.bring_back(
            session, order.lines[0], 1, DAY - timedelta(days=3), "early", sound=True, replaced=False
        )


def test_an_order_closed_by_mistake_is_opened_again(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 3)
    order = bench.agreed(quantity=5)
    [line] = order.lines
    with pytest.raises(DomainError, match="not closed without"):
        deliveries.open_again(session, order)
    deliveries.deliver(session, order, {line.id: 3}, DAY)
    deliveries.bring_back(session, line, 1, DAY, "torn", sound=False, replaced=False)
    deliveries.close_short(session, order, DAY)
    assert (order.total, deliveries.closed_short_by(session, order)) == (80, {line.id: 2})
    deliveries.open_again(session, order)
    assert (order.total, order.state, only(session, order).missing) == (160, "in progress", 2)
    assert check_books(session) == []


def test_only_the_last_delivery_is_taken_back(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 5)
    order = bench.agreed(quantity=5)
    [line] = order.lines
    for number in (3, 2):
        deliveries.deliver(session, order, {line.id: number}, DAY)
    orders.move_order(session, order, "ready", DAY, None)
    assert (only(session, order).delivered, only(session, order).set_aside) == (3, 2)


def test_what_is_begun_for_an_order_is_counted_for_no_other(session: Session, bench: Bench) -> None:
    first, second = bench.agreed(quantity=4, days=10), bench.agreed(quantity=4, days=30)
    begin_batch(session, {bench.variant: 5}, DAY, {second.lines[0]: 4})
    short = needs(session, DAY).to_make[stock.item_key(bench.variant)]
    # One of the batch is for anybody: the first order gets it, and three are still to make for it.
    assert [(peg.demand.link, peg.quantity) for peg in short.pegs] == [(f"order-{first.id}", 3)]
    assert (short.needed, short.there, short.short) == (8, 5, 3)
    gets = needs(session, DAY).made_now[stock.item_key(bench.variant)]
    assert sorted(gets.values()) == [1, 4]


def test_free_ones_on_the_shelf_stay_free_beside_a_batch(session: Session, bench: Bench) -> None:
    order = bench.agreed(quantity=4)
    begin_batch(session, {bench.variant: 4}, DAY, {order.lines[0]: 4})
    on_the_shelf(session, bench, 5)
    short = needs(session, DAY).to_make[stock.item_key(bench.variant)]
    assert (short.needed, short.there, short.short) == (4, 9, 0)
    assert promise(session, {bench.variant: 5}, None, DAY).to_make == 0


def test_what_is_begun_for_an_order_is_not_begun_twice(session: Session, bench: Bench) -> None:
    first, second = bench.agreed(quantity=10), bench.agreed(quantity=4)
    begin_batch(session, {bench.variant: 4}, DAY, {first.lines[0]: 4})
    assert shelf.to_make_for(session, [first, second]) == {
        first.lines[0]: 6, second.lines[0]: 4,
    }  # fmt: skip
    [one] = shelf.lacking(session, second)
    assert (one.being_made, one.to_make) == (0, 4)
    [one] = shelf.lacking(session, first)
    assert (one.being_made, one.to_make) == (4, 6)


def test_none_is_no_number_to_bring_back(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 2)
    order = bench.agreed(2)
    [line] = order.lines
    deliveries.deliver(session, order, {line.id: 2}, DAY)
    for number in (0, -1, 3):
        with pytest.raises(DomainError, match="The customer has 2 of it"):
            deliveries.bring_back(session, line, number, DAY, "torn", sound=True, replaced=False)
    made = deliveries.bring_back(session, line, 1, DAY, "torn", sound=True, replaced=False)
    # What came back came from the lot it was delivered out of.
    sold = session.scalars(
        select(Movement.lot_id).where(Movement.kind == MovementKind.SOLD).distinct()
    ).one()
    assert session.get_one(Lot, made.lot_id).parent_id == sold


def test_an_order_is_open_again_when_its_delivery_is_taken_back(
    session: Session, bench: Bench
) -> None:
    on_the_shelf(session, bench, 4)
    whole, part = bench.agreed(2), bench.agreed(3)
    done = deliveries.deliver(session, whole, {whole.lines[0].id: 2}, DAY)
    assert (whole.state, whole.closed_at is None) == (OrderState.DELIVERED, False)
    some = deliveries.deliver(session, part, {part.lines[0].id: 1}, DAY)
    before = part.state
    deliveries.take_back_delivery(session, whole, done)
    deliveries.take_back_delivery(session, part, some)
    assert (whole.state, whole.closed_at) == (OrderState.READY, None)
    assert part.state == before


def test_only_what_it_was_closed_without_is_short(session: Session, bench: Bench) -> None:
    on_the_shelf(session, bench, 5)
    other = bench.begin("Other").current.variants[0]
    order = bench.order(3)
    orders.add_line(order, LineAsked(other, 1, Decimal(9)))
    stock.receive(session, other, 1, Decimal(9), DAY, kind="made")
    orders.agree_order(session, order, DAY)
    first, second = order.lines
    assert shelf.to_make_for(session, [order]) == {first: 3, second: 1}
    deliveries.deliver(session, order, {first.id: 2, second.id: 1}, DAY)
    assert deliveries.closed_short_by(session, order) == {}
    deliveries.close_short(session, order, DAY)
    assert deliveries.closed_short_by(session, order) == {first.id: 1}


def test_an_order_names_its_own_batches_and_none_that_was_given_up(
    session: Session, bench: Bench
) -> None:
    mine, theirs = bench.agreed(2), bench.agreed(1)
    kept = begin_batch(session, {bench.variant: 2}, DAY, {mine.lines[0]: 2})
    begin_batch(session, {bench.variant: 1}, DAY, {theirs.lines[0]: 1})
    given_up = begin_batch(session, {bench.variant: 1}, DAY, {mine.lines[0]: 1})
    cancel_batch(session, given_up)
    [one] = deliveries.made_in(session, mine)
    assert (one.batch, one.quantity, one.good, one.left) == (kept, 2, 0, 2)
