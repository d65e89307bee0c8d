"""Shops that sell on commission: what they have stays the maker's until it is sold."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy import event
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.models import Movement, Outlet
from app.services.orders import deliveries
from app.services.outlets import outlets
from app.services.outlets.outlets import SoldThere
from app.services.shop.settings import StaleError, channels, the_shop
from app.services.stock import ledger as stock
from app.services.takings.account import takings
from app.services.takings.books import books
from app.services.takings.periods import Period
from app.services.takings.stock_value import Shelf, lying, stock_value
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench

D = Decimal
MARCH = Period(DAY, DAY + timedelta(days=30))


@pytest.fixture
def bench(session: Session) -> Bench:
    the_shop(session).tax = D(0)
    return Bench(session)


def outlet_of(session: Session, commission: str = "0.2", **more: object) -> Outlet:
    values = {"name": "Corner gallery", "channel": channels(session)[0], "contact": "",
              "commission": D(commission), "note": ""}  # fmt: skip
    return outlets.save_outlet(session, None, values | more)


def test_n5_consigned_at_a_unit_of_102(session: Session, bench: Bench) -> None:
    """A worked exercise: 750 at 100, freight 1,500; 420 sold at 150; 20% commission: profit 7,560,
    remitted 50,400, stock 33,660."""
    stock.receive(session, bench.variant, 750, D(750 * 100 + 1_500), DAY)
    outlet = outlet_of(session)
    assert outlets.send(session, outlet, {bench.variant.id: 750}, DAY) == 750
    [there] = outlets.there(session, outlet)
    assert there.cost / there.pieces == 102
    sold = SoldThere(bench.variant.id, 420, D(150))
    statement = outlets.state_sold(session, outlet, [sold], DAY)
    came_to = outlets.account_of(session, [statement])[statement.id]
    assert came_to.owed == outlets.owes(session, outlet) == 50_400
    total = takings(session, MARCH, "journal").total.shown
    assert (total.sales, total.fees, total.cost, total.profit) == (63_000, 12_600, 42_840, 7_560)
    value = stock_value(session, MARCH.last)
    assert value.by_shelf[Shelf.SHOPS] == value.total == 33_660
    assert check_books(session) == []


def test_n6_books_with_another_tax_on_sales(session: Session, bench: Bench) -> None:
    """A solutions manual: unit 300 + 22; 700 of 1000 sold at 450; 20% + 2% tax: 20,300; 96,600."""
    stock.receive(session, bench.variant, 1000, D(1000 * 322), DAY)
    outlet = outlet_of(session)
    outlets.send(session, outlet, {bench.variant.id: 1000}, DAY)
    tax = D(700 * 450) * D("0.02")
    outlets.state_sold(session, outlet, [SoldThere(bench.variant.id, 700, D(450))], DAY, tax)
    assert takings(session, MARCH, "channel").total.shown.profit == 20_300
    assert stock_value(session, MARCH.last).total == 96_600
    found = books(session, MARCH)
    assert found.debits == found.credits
    by_name = {b.account.name: b.amount for b in found.balances}
    assert by_name["Customers"] == outlets.owes(session, outlet) == 315_000 - 63_000 - 6_300


def test_what_is_at_a_shop_is_on_no_shelf_and_promised_to_nobody(
    session: Session, bench: Bench
) -> None:
    stock.receive(session, bench.variant, 3, D(27), DAY)
    outlet = outlet_of(session)
    outlets.send(session, outlet, {bench.variant.id: 2}, DAY)
    assert stock.on_hand(session, bench.variant) == 1
    order = bench.agreed(quantity=2)
    with pytest.raises(DomainError, match="1 of 2"):
        deliveries.deliver(session, order, {order.lines[0].id: 2}, DAY)
    assert outlets.bring_home(session, outlet, {bench.variant.id: 1}, DAY) == 1
    assert stock.on_hand(session, bench.variant) == 2
    assert [row.quantity for row in lying(session, DAY, Shelf.SHOPS)] == [1]
    assert check_books(session) == []


def test_no_more_than_there_is(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 3, D(27), DAY)
    outlet, own = outlet_of(session), bench.variant.id
    for do, field, said in (
        (lambda: outlets.send(session, outlet, {own: 4}, DAY), f"send-{own}", "3 are on the shelf"),
        (lambda: outlets.send(session, outlet, {own: 0}, DAY), None, "Say how many"),
        (lambda: outlets.send(session, outlet, {own: -1}, DAY), None, "Fewer than none"),
        (lambda: outlets.send(session, outlet, {99_999: 1}, DAY), "send-99999", "is gone"),
        (lambda: outlets.bring_home(session, outlet, {own: 1}, DAY), f"home-{own}", "0 were there"),
        (lambda: outlets.state_sold(session, outlet, [SoldThere(own, 1, D(9))], DAY),
         f"sold-{own}", "0 were there"),
        (lambda: outlets.state_sold(session, outlet, [], DAY), None, "Say how many"),
    ):  # fmt: skip
        with pytest.raises(DomainError, match=said) as caught, session.begin_nested():
            do()
        assert caught.value.field == field
    outlets.send(session, outlet, {own: 1}, DAY)
    with pytest.raises(DomainError, match="more than was sold"), session.begin_nested():
        outlets.state_sold(session, outlet, [SoldThere(own, 1, D(9))], DAY, D(20))
    with pytest.raises(DomainError, match="less than all"), session.begin_nested():
        outlets.state_sold(session, outlet, [SoldThere(own, 1, D(9))], DAY, commission=D(1))


def test_a_statement_is_taken_back(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 3, D(27), DAY)
    outlet, own = outlet_of(session), bench.variant.id
    outlets.send(session, outlet, {own: 3}, DAY)
    statement = outlets.state_sold(session, outlet, [SoldThere(own, 2, D(40))], DAY)
    assert (statement.number, outlets.owes(session, outlet)) == (1, 64)
    outlets.take_back(session, statement)
    assert outlets.owes(session, outlet) == 0
    assert [row.pieces for row in outlets.there(session, outlet)] == [3]
    assert takings(session, MARCH, "month").total.shown.pieces == 0
    with pytest.raises(DomainError, match="already"):
        outlets.take_back(session, statement)
    assert outlets.state_sold(session, outlet, [SoldThere(own, 1, D(40))], DAY).number == 2
    assert check_books(session) == []


def test_a_shop_pays_and_a_mistake_is_answered(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 3, D(27), DAY)
    outlet, own = outlet_of(session), bench.variant.id
    outlets.send(session, outlet, {own: 3}, DAY)
    outlets.state_sold(session, outlet, [SoldThere(own, 2, D(40))], DAY)
    paid = outlets.settle(session, outlet, D(64), DAY, "transfer")
    assert outlets.owes(session, outlet) == 0
    opposite = outlets.answer(session, paid, DAY)
    assert (opposite.amount, outlets.owes(session, outlet)) == (-64, 64)
    for one in (paid, opposite):
        with pytest.raises(DomainError, match="answer"):
            outlets.answer(session, one, DAY)
    with pytest.raises(DomainError, match="more than nothing"):
        outlets.settle(session, outlet, D(0), DAY, "cash")


def test_a_movement_of_a_shop_is_put_right_on_its_page(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 3, D(27), DAY)
    outlets.send(session, outlet_of(session), {bench.variant.id: 1}, DAY)
    last = session.query(Movement).order_by(Movement.id.desc()).first()
    assert last is not None
    with pytest.raises(DomainError, match="put it right on its page"):
        stock.reverse(session, last, "mistake")


def test_shops_have_names_of_their_own_and_versions(session: Session, bench: Bench) -> None:
    outlet = outlet_of(session)
    values = {"name": "corner GALLERY", "channel": outlet.channel, "commission": D("0.3")}
    with pytest.raises(DomainError, match="of that name"):
        outlets.save_outlet(session, None, values)
    with pytest.raises(DomainError, match="less than all"):
        outlets.save_outlet(session, None, {**values, "name": "B", "commission": D(1)})
    opened = outlet.version
    outlets.save_outlet(session, outlet, {**values, "name": "Corner gallery"}, opened)
    with pytest.raises(StaleError):
        outlets.save_outlet(session, outlet, values, opened)
    stock.receive(session, bench.variant, 1, D(9), DAY)
    outlets.send(session, outlet, {bench.variant.id: 1}, DAY)
    with pytest.raises(DomainError, match="bring them home"):
        outlets.save_outlet(session, outlet, {**values, "name": "Corner gallery", "retired": True})
    outlets.bring_home(session, outlet, {bench.variant.id: 1}, DAY)
    outlets.save_outlet(session, outlet, {**values, "name": "Corner gallery", "retired": True})
    with pytest.raises(DomainError, match="no longer used"):
        outlets.send(session, outlet, {bench.variant.id: 1}, DAY)
    assert outlets.outlets(session) == [outlet]


def test_many_shops_are_read_at_once(session: Session, bench: Bench) -> None:
    """The list of shops asks as often for five as for one, and says of each what its page says."""
    stock.receive(session, bench.variant, 20, D(180), DAY)

    def asked() -> int:
        times = 0

        def count(*_: object) -> None:
            nonlocal times
            times += 1

        every = outlets.outlets(session)
        event.listen(session.get_bind(), "before_cursor_execute", count)
        session.expire_all()
        [outlet.id for outlet in every]
        start = times
        there, owed = outlets.there_at(session, every), outlets.owed_by(session, every)
        found = times - start
        event.remove(session.get_bind(), "before_cursor_execute", count)
        for outlet in every:
            assert there[outlet.id] == outlets.there(session, outlet)
            assert owed[outlet.id] == outlets.owes(session, outlet)
        return found

    numbers = []
    for number in range(5):
        outlet = outlet_of(session, name=f"Shop {number}")
        outlets.send(session, outlet, {bench.variant.id: 3}, DAY)
        outlets.state_sold(session, outlet, [SoldThere(bench.variant.id, 2, D(40))], DAY)
        outlets.settle(session, outlet, D(10 + number), DAY, "cash")
        numbers.append(asked())
    assert numbers[-1] == numbers[0]
    assert outlets.owes(session, outlet) == 64 - 14
