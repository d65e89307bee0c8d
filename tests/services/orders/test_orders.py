"""Orders keep what was agreed, count money without gaps, and are found again."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import OrderState
from app.models import Customer, Order
from app.services.designs.journals import keep_design
from app.services.orders import orders, search
from app.services.shop import settings as shop
from app.services.shop.settings import StaleError
from app.services.stock import ledger as stock
from tests.conftest import DAY, count
from tests.factories import Bench, offer


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def test_orders_are_numbered_without_gaps(session: Session, bench: Bench) -> None:
    assert [bench.order().number for _ in range(3)] == [1, 2, 3]
    with pytest.raises(DomainError), session.begin_nested():
        bench.order(days=-1)
    assert bench.order().number == 4


def test_a_known_customer_is_not_doubled(session: Session, bench: Bench) -> None:
    first, second = (
        bench.order(who="Ada Bell"),
        bench.order(who=" ada bell ", reach="ada@x.example"),
    )
    assert first.customer is second.customer
    assert count(session, "customer") == 1
    assert session.get_one(Customer, first.customer_id).email == "ada@x.example"


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"who": "  "}, "customer"), ({"days": -2}, "wanted_by"), ({"quantity": 0}, "quantity")],
)
def test_an_order_that_makes_no_sense_is_refused(
    bench: Bench, changes: dict[str, object], field: str
) -> None:
    with pytest.raises(DomainError) as caught:
        bench.order(**changes)  # type: ignore[arg-type]
    assert caught.value.field == field


def test_what_was_agreed_stays_when_prices_and_designs_change(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed()
    [line] = order.lines
    cost, dims = line.unit_cost, dict(line.variant.design.dimensions)
    offer(session, bench.sheet, "200", 25, by=bench.sheet.offers[0].supplier, since=DAY)
    settings = shop.the_shop(session)
    settings.pay_per_hour, settings.tax = Decimal(99), Decimal("0.2")
    kept = keep_design(session, bench.variant, bench.draft(folios=9), None)
    assert kept.design.number == 2
    assert line.variant.design.number == 1
    assert line.variant.design.dimensions == dims
    assert (line.unit_cost, line.unit_price, order.tax_rate) == (cost, Decimal("40.00"), 0)


def test_agreeing_freezes_the_design(session: Session, bench: Bench) -> None:
    assert bench.variant.design.frozen_at is None
    bench.agreed()
    assert bench.variant.design.frozen_at is not None


def test_states_follow_one_another(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 4, Decimal("61.00"), DAY, kind="made")
    order = bench.agreed()
    for state in ("in progress", "ready", "delivered"):
        orders.move_order(session, order, state, DAY, None)
    assert order.closed_at is not None
    with pytest.raises(DomainError, match="after that comes ready"):
        orders.move_order(session, order, "accepted", DAY, None)
    orders.move_order(session, order, "ready", DAY, None)
    assert order.closed_at is None


def test_handing_over_by_mistake_moves_no_stock(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 5, Decimal("61.00"), DAY, kind="made")
    order = bench.agreed(quantity=2)
    for state in ("ready", "delivered", "ready"):
        orders.move_order(session, order, state, DAY, None)
    assert stock.on_hand(session, bench.variant) == 3


def test_a_cancelled_order_owes_nothing_and_gives_back_what_was_paid(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed(quantity=2)
    orders.take_payment(session, order, Decimal("30.00"), DAY, "cash")
    orders.move_order(session, order, "cancelled", DAY, None)
    assert order.balance == Decimal("-30.00")
    with pytest.raises(DomainError, match="still to pay"):
        orders.take_payment(session, order, Decimal("1.00"), DAY, "cash")
    orders.take_payment(session, order, Decimal("-30.00"), DAY, "cash")
    assert order.balance == 0


def test_an_agreed_order_keeps_its_lines(session: Session, bench: Bench) -> None:
    order = bench.agreed()
    later = DAY + timedelta(days=60)
    orders.change_order(
        session, order, channel=order.channel, lines=[], wanted_by=later, note="n", version=None
    )
    assert (order.wanted_by, order.note, len(order.lines)) == (later, "n", 1)
    with pytest.raises(DomainError, match="stay as they are"):
        orders.add_line(order, orders.LineAsked(bench.variant, 1, Decimal(1)))


def test_an_asked_order_can_be_rewritten(session: Session, bench: Bench) -> None:
    order = bench.order()
    orders.change_order(
        session, order, channel=order.channel, wanted_by=order.wanted_by, note="",
        lines=[orders.LineAsked(bench.variant, 2, Decimal("38.50"), "blue")], version=order.version,
    )  # fmt: skip
    assert [(row.quantity, row.asked_for) for row in order.lines] == [(2, "blue")]
    assert order.total == Decimal("77.00")


def test_a_stale_form_is_told_so(session: Session, bench: Bench) -> None:
    order = bench.order()
    opened = order.version
    orders.move_order(session, order, "accepted", DAY, opened)
    with pytest.raises(StaleError, match="another window"):
        orders.move_order(session, order, "in progress", DAY, opened)


def test_deposit_and_balance(session: Session, bench: Bench) -> None:
    order = bench.order(quantity=2)
    first = orders.take_payment(session, order, Decimal("30.00"), DAY, "cash")
    assert (order.paid, order.balance) == (Decimal("30.00"), Decimal("50.00"))
    second = orders.take_payment(session, order, Decimal("50.00"), DAY, "card")
    assert [first.receipt_number, second.receipt_number] == [1, 2]
    assert order.balance == 0
    orders.take_payment(session, order, Decimal("-80.00"), DAY, "transfer")
    assert order.paid == 0


@pytest.mark.parametrize(
    ("amount", "says"), [("0", "Nothing was paid"), ("81", "still to pay"), ("-1", "given back")]
)
def test_payments_that_cannot_be(session: Session, bench: Bench, amount: str, says: str) -> None:
    order = bench.order(quantity=2)
    with pytest.raises(DomainError, match=says):
        orders.take_payment(session, order, Decimal(amount), DAY, "cash")
    assert count(session, "payment") == 0


def test_ready_takes_from_the_shelf_and_stepping_back_returns_it(
    session: Session, bench: Bench
) -> None:
    stock.receive(session, bench.variant, 3, Decimal("61.00"), DAY, kind="made")
    order = bench.agreed(quantity=2)
    orders.move_order(session, order, "ready", DAY, None)
    assert stock.on_hand(session, bench.variant) == 1
    orders.move_order(session, order, "in progress", DAY, None)
    assert stock.on_hand(session, bench.variant) == 3
    orders.move_order(session, order, "ready", DAY, None)
    orders.move_order(session, order, "cancelled", DAY, None)
    assert stock.on_hand(session, bench.variant) == 3


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("ada", {1}),
        ("BEN", {2}),
        ("plain", {1, 2}),
        ("blue", {2}),
        ("#2", {2}),
        ("ada blue", set()),
        ("100%", set()),
        ("_", set()),
        ("'; drop table", set()),
        ("ben@x", {2}),
    ],
)
def test_orders_are_found_by_any_of_their_words(
    session: Session, bench: Bench, text: str, found: set[int]
) -> None:
    bench.order(who="Ada")
    channel = shop.channels(session)[0]
    orders.log_order(
        session, customer_name="Ben", channel=channel, logged_on=DAY, wanted_by=DAY,
        lines=[orders.LineAsked(bench.variant, 1, Decimal(1), "blue beads")], reach="ben@x.example",
    )  # fmt: skip
    assert {o.number for o in search.search_orders(session, text).orders} == found


def test_long_lists_are_paged(session: Session, bench: Bench) -> None:
    for _ in range(search.PAGE + 3):
        bench.order()
    first, last = search.search_orders(session, page=1), search.search_orders(session, page=99)
    assert (len(first.orders), first.pages) == (search.PAGE, 2)
    assert (len(last.orders), last.page) == (3, 2)


def test_orders_are_sorted_as_asked(session: Session, bench: Bench) -> None:
    later, soon, latest = (
        bench.order(who=who, days=days) for who, days in (("bert", 9), ("Ada", 3), ("Carl", 12))
    )

    def listed(state: str, sort: str) -> list[Order]:
        return search.search_orders(session, state=state, sort=sort).orders

    assert listed("", "soonest") == listed("open", "") == [soon, later, latest]
    assert listed("open", "latest") == listed("", "") == listed("", "nonsense") == [
        latest, later, soon,
    ]  # fmt: skip
    assert listed("", "number") == [latest, soon, later]
    assert listed("open", "who") == [soon, later, latest]
    assert search.search_orders(session, "Ada", sort="who").orders == [soon]


def test_filters_by_state(session: Session, bench: Bench) -> None:
    asked, agreed = bench.order(), bench.agreed()
    assert search.search_orders(session, state="accepted").orders == [agreed]
    assert set(search.search_orders(session, state="open").orders) == {asked, agreed}
    assert search.open_orders(session) == [agreed]


def test_what_is_not_settled_is_found_as_the_balance_says(session: Session, bench: Bench) -> None:
    shop.the_shop(session).tax = Decimal("0.19")
    [direct, _, wholesale] = shop.channels(session)
    every = []
    for number, (channel, paid) in enumerate(
        [
            (direct, "120"),
            (direct, "119.99"),
            (wholesale, "142.80"),
            (wholesale, "142.79"),
            (direct, "0"),
        ]
    ):
        order = bench.order(3, who=f"C{number}")
        order.channel = channel
        orders.agree_order(session, order, DAY)
        if Decimal(paid):
            orders.take_payment(session, order, Decimal(paid), DAY, "cash")
        order.state = OrderState.DELIVERED
        every.append(order)
    back, kept, fine = (bench.order(1, who=f"D{n}") for n in range(3))
    for order, keeps, pays in ((back, False, True), (kept, True, True), (fine, False, False)):
        orders.agree_order(session, order, DAY)
        if pays:
            orders.take_payment(session, order, Decimal(5), DAY, "cash")
        orders.cancel_order(session, order, DAY, None, deposit="kept" if keeps else "owed")
    asked = bench.order(1, who="E")
    session.flush()
    session.expire_all()
    found = set(search.search_orders(session, state="unsettled").orders)
    over = {*every, back, kept, fine}
    assert found == {order for order in over if order.balance}
    assert found == {every[1], every[3], every[4], back}
    assert asked not in found
    left = [order.balance for order in over]
    assert search.unsettled(session) == search.Unsettled(
        4, sum(one for one in left if one > 0), -sum(one for one in left if one < 0)
    )
    assert search.unsettled(session).to_give_back == Decimal(5)
