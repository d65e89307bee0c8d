"""Customers corrected, joined on purpose, with all that they ordered."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.models import Customer
from app.services.orders import customers, orders
from app.services.orders.customers import SameNameError
from app.services.shop.settings import StaleError
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def values(customer: Customer, **more: str) -> dict[str, str]:
    kept = {k: getattr(customer, k) or "" for k in ("name", "email", "phone", "address", "note")}
    return kept | more


def test_two_entries_are_joined_and_nothing_is_lost(session: Session, bench: Bench) -> None:
    kept = bench.agreed(quantity=2, who="Lopez").customer
    second = bench.agreed(quantity=1, who="López")
    other = second.customer
    customers.save_customer(
        session, kept, values(kept, email="l@one.example", note="Rings first"), kept.version
    )
    customers.save_customer(
        session, other,
        values(other, email="l@two.example", phone="0123", address="3 Quay"), other.version,
    )  # fmt: skip
    gone = other.id
    orders.take_payment(session, second, Decimal(15), DAY, "cash")
    customers.join_customers(session, kept, other)
    history = customers.history_of(session, kept)
    assert [order.lines[0].quantity for order in history.orders] == [1, 2]
    assert (history.paid, history.owed) == (Decimal(15), Decimal(3 * 40 - 15))
    assert (kept.email, kept.phone, kept.address) == ("l@one.example", "0123", "3 Quay")
    for line in ("Rings first", "l@two.example", "Also entered as López"):
        assert line in kept.note
    assert session.get(Customer, gone) is None
    assert customers.customers_named(session, "López") == []


def test_what_cannot_be_joined_is_refused(session: Session, bench: Bench) -> None:
    kept, erased = bench.order(who="Ada").customer, bench.order(who="Bert").customer
    erased.erased_at = datetime(2027, 3, 1, tzinfo=UTC)
    with pytest.raises(DomainError, match="Choose another"):
        customers.join_customers(session, kept, kept)
    with pytest.raises(DomainError, match="erased"):
        customers.join_customers(session, kept, erased)


def test_a_customer_is_corrected_and_a_stale_window_is_told(session: Session, bench: Bench) -> None:
    customer = bench.order(who="Ada").customer
    before = customer.version
    customers.save_customer(session, customer, values(customer, name="Ada Lune"), before)
    assert customer.name == "Ada Lune"
    with pytest.raises(StaleError):
        customers.save_customer(session, customer, values(customer, name="Other"), before)
    with pytest.raises(DomainError, match="name is needed"):
        customers.save_customer(session, customer, values(customer, name=" "), customer.version)


def test_customers_are_found_with_the_day_of_their_last_order(
    session: Session, bench: Bench
) -> None:
    bench.order(who="Ada")
    bench.order(who="Ada")
    bench.order(who="Bert")
    found = customers.find_customers(session, "ada")
    assert [(k.customer.name, k.orders, k.last) for k in found] == [("Ada", 2, DAY)]
    assert [k.customer.name for k in customers.find_customers(session)] == ["Ada", "Bert"]
    assert customers.find_customers(session, "100%") == []


def test_customers_are_listed_from_any_one_on(session: Session, bench: Bench) -> None:
    for who in ("bert", "Ada", "Carl", "ada lune"):
        bench.order(who=who)
    first = [k.customer for k in customers.find_customers(session, most=2)]
    assert [c.name for c in first] == ["Ada", "ada lune"]
    rest = [k.customer for k in customers.find_customers(session, after=first[-1])]
    assert [c.name for c in rest] == ["bert", "Carl"]
    assert customers.find_customers(session, after=rest[-1]) == []
    # Of two of one name the later one comes after the first.
    other = Customer(name="Ada")
    session.add(other)
    session.flush()
    after = [k.customer for k in customers.find_customers(session, "ada", after=first[0])]
    assert after == [other, first[1]]


def test_a_name_that_is_known_is_asked_about(session: Session, bench: Bench) -> None:
    first = bench.order(who="Ada").customer
    with pytest.raises(SameNameError):
        customers.customer_for(session, "ADA")
    assert customers.customer_for(session, "ada", "a@b.example", first.id) is first
    assert first.email == "a@b.example"
    customers.customer_for(session, "ada", "0456", first.id)
    customers.customer_for(session, "ada", "z@b.example", first.id)
    assert (first.email, first.phone) == ("a@b.example", "0456")
    assert "z@b.example" in first.note
    second = customers.customer_for(session, "Ada", who=customers.SOMEBODY_ELSE)
    assert second is not first
