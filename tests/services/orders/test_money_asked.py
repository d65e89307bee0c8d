"""What an order asks: prices with their tax in them or on top of them, and the post."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.models import Order
from app.services.orders import orders
from app.services.shop.settings import the_shop
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    found = Bench(session)
    the_shop(session).tax = Decimal("0.2")
    return found


def asked(bench: Bench, price: str, *, wholesale: bool = False, **more: object) -> Order:
    bench.channel.wholesale = wholesale
    return bench.order(quantity=3, price=Decimal(price), **more)  # type: ignore[arg-type]


def test_retail_prices_have_their_tax_in_them(session: Session, bench: Bench) -> None:
    order = asked(bench, "24.00", postage=Decimal("4.80"))
    assert (order.asked, order.tax_on_top, order.total) == (Decimal("76.80"), 0, Decimal("76.80"))


def test_wholesale_prices_have_it_put_on_top_once_for_all(session: Session, bench: Bench) -> None:
    # 3 × 10.01 + 4.99 = 35.02; 20% of that is 7.004.
    order = asked(bench, "10.01", wholesale=True, postage=Decimal("4.99"))
    assert (order.asked, order.tax_on_top) == (Decimal("35.02"), Decimal("7.00"))
    assert order.total == order.balance == Decimal("42.02")
    orders.agree_order(session, order, order.logged_on)
    orders.take_payment(session, order, Decimal("42.02"), order.logged_on, "transfer")
    assert order.balance == 0


def test_what_was_agreed_stays_when_the_channel_or_the_tax_changes(
    session: Session, bench: Bench
) -> None:
    order = asked(bench, "10.00", wholesale=True)
    orders.agree_order(session, order, order.logged_on)
    bench.channel.wholesale, the_shop(session).tax = False, Decimal("0.25")
    assert order.total == Decimal("36.00")


def test_an_enquiry_follows_its_channel(session: Session, bench: Bench) -> None:
    order = asked(bench, "10.00")
    bench.channel.wholesale = True
    orders.agree_order(session, order, order.logged_on)
    assert order.total == Decimal("36.00")


def test_postage_is_changed_while_nothing_is_agreed(session: Session, bench: Bench) -> None:
    order = asked(bench, "10.00", postage=Decimal("3.00"))
    lines = [orders.LineAsked(order.lines[0].variant, 3, Decimal(10))]

    def change(postage: Decimal | None) -> None:
        orders.change_order(
            session, order, channel=order.channel, lines=lines, wanted_by=order.wanted_by,
            note="", version=None, postage=postage,
        )  # fmt: skip

    change(None)
    assert order.postage == Decimal("3.00")
    change(Decimal("5.50"))
    assert order.total == Decimal("35.50")
    orders.agree_order(session, order, order.logged_on)
    change(Decimal("9.00"))
    assert order.total == Decimal("35.50")
