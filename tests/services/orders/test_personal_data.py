"""What is held about a customer: all of it given out, and taken out so that the books add up."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import inspect, select, text
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import BatchState
from app.models import Batch, BatchLine, Customer, Document, Order
from app.services.orders import customers, deliveries, documents, orders
from app.services.orders.personal_data import (
    ERASED,
    erase,
    erase_old_papers,
    held_about,
    named_still,
    why_not_erased,
)
from app.services.shop.letterhead import save_letterhead
from app.services.shop.settings import StaleError, next_number
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench

NOWHERE = Path("/nowhere")
NOW = datetime(2027, 3, 9, 12, tzinfo=UTC)
WORDS = ("Zenobia", "zen@x.example", "07700 900", "Quay Lane", "IE99", "left-handed", "gold Z",
         "doorstep", "wobbly", "wrong street")  # fmt: skip


@pytest.fixture
def bench(session: Session) -> Bench:
    found = Bench(session)
    save_letterhead(session, {"address": "1 Quay", "country": "GB"}, None)
    stock.receive(session, found.variant, 9, Decimal(90), DAY)
    return found


@pytest.fixture
def zenobia(session: Session, bench: Bench) -> Customer:
    """A customer of whom something is written down everywhere it can be."""
    order = bench.order(3, who="Zenobia", note="left-handed", postage=Decimal(4))
    order.lines[0].asked_for = "a gold Z"
    who = {"name": "Zenobia", "email": "zen@x.example", "phone": "07700 900", "country": "IE",
           "address": "Quay Lane", "note": "wobbly voice", "tax_number": "IE99"}  # fmt: skip
    customers.save_customer(session, order.customer, who, None)
    documents.write_quote(session, order, DAY, DAY)
    orders.agree_order(session, order, DAY)
    orders.take_payment(session, order, Decimal(124), DAY, "cash")
    first = documents.write_invoice(session, order, DAY, DAY)
    documents.write_credit_note(session, first, DAY, "wrong street")
    later = DAY + timedelta(days=40)
    documents.write_invoice(session, order, later, later)
    deliveries.deliver(session, order, {order.lines[0].id: 3}, DAY, note="on the doorstep")
    deliveries.bring_back(session, order.lines[0], 1, DAY, "wobbly spine", sound=True,
                          replaced=False)  # fmt: skip
    orders.take_payment(session, order, Decimal(-40), DAY, "cash")
    return order.customer


def everywhere(session: Session) -> str:
    """All text of the whole database."""
    session.flush()
    found = []
    for table in inspect(session.connection()).get_table_names():
        for row in session.execute(text(f'SELECT * FROM "{table}"')):  # noqa: S608
            found.append(" ".join(str(value) for value in row))
    return "\n".join(found)


def test_all_that_is_held_is_given_out(session: Session, zenobia: Customer) -> None:
    given = json.dumps(held_about(session, zenobia), ensure_ascii=False)
    for words in WORDS:
        assert words in given, words
    assert '"total": "84.0000"' in given


def test_nothing_personal_is_left_and_the_books_add_up(session: Session, zenobia: Customer) -> None:
    before = everywhere(session)
    assert all(words in before for words in WORDS)
    [order] = session.scalars(select(Order))
    was = order.total, order.paid, order.balance, order.number
    done = erase(session, zenobia, NOW, photos=NOWHERE, invoices_before=DAY + timedelta(days=90))
    assert (done.orders, done.papers, done.kept) == (1, 4, 0)
    after = everywhere(session)
    assert [words for words in WORDS if words in after] == []
    assert (order.total, order.paid, order.balance, order.number) == was
    assert check_books(session) == []
    assert customers.find_customers(session) == []
    assert customers.customers_named(session, ERASED) == []
    for document in session.scalars(select(Document)):
        paper = documents.paper_of(document)
        assert paper.customer.name == ERASED
        assert documents.document_pdf(session, document)[:5] == b"%PDF-"


def test_young_invoices_keep_the_name_until_they_may_lose_it(
    session: Session, zenobia: Customer
) -> None:
    done = erase(session, zenobia, NOW, photos=NOWHERE, invoices_before=DAY + timedelta(days=1))
    assert (done.papers, done.kept) == (3, 1)
    [left] = named_still(session)
    assert left.content["customer"]["name"] == "Zenobia"
    assert erase_old_papers(session, left.issued_on) == 0
    assert erase_old_papers(session, left.issued_on + timedelta(days=1)) == 1
    assert named_still(session) == []
    after = everywhere(session)
    assert [words for words in WORDS if words in after] == []


def test_why_a_journal_was_spoiled_is_given_out_and_taken_out(
    session: Session, zenobia: Customer, bench: Bench
) -> None:
    [order] = session.scalars(select(Order))
    batch = Batch(number=next_number(session, "batch"), state=BatchState.MADE)
    other = bench.order(1, who="Somebody else")
    for line, why in ((order.lines[0], "Zen's Z was smudged"), (other.lines[0], "not hers")):
        batch.lines.append(
            BatchLine(
                variant=line.variant,
                quantity=1,
                good=0,
                spoiled=1,
                why_spoiled=why,
                order_line_id=line.id,
            )
        )
    session.add(batch)
    session.flush()
    held = json.dumps(held_about(session, zenobia))
    assert "was smudged" in held
    assert "not hers" not in held
    erase(session, zenobia, NOW, photos=NOWHERE)
    assert [line.why_spoiled for line in batch.lines] == ["", "not hers"]


def test_an_invoice_of_that_very_day_keeps_the_name(session: Session, zenobia: Customer) -> None:
    assert erase(session, zenobia, NOW, photos=NOWHERE, invoices_before=DAY).kept == 3


def test_without_a_day_every_invoice_keeps_it(session: Session, zenobia: Customer) -> None:
    assert erase(session, zenobia, NOW, photos=NOWHERE).kept == 3


def test_who_is_still_waited_for_is_not_erased(session: Session, bench: Bench) -> None:
    order = bench.order(2)
    with pytest.raises(DomainError, match="Order 1 is enquiry"):
        erase(session, order.customer, NOW, photos=NOWHERE)
    orders.agree_order(session, order, DAY)
    with pytest.raises(DomainError, match="Order 1 is accepted"):
        erase(session, order.customer, NOW, photos=NOWHERE)
    orders.move_order(session, order, "ready", DAY, None)
    orders.move_order(session, order, "delivered", DAY, None)
    assert "money is still to pay" in why_not_erased(session, order.customer)
    orders.take_payment(session, order, Decimal(80), DAY, "cash")
    customer = order.customer
    with pytest.raises(StaleError):
        erase(session, customer, NOW, photos=NOWHERE, version=customer.version + 1)
    erase(session, customer, NOW, photos=NOWHERE, version=customer.version)
    with pytest.raises(DomainError, match="taken out already"):
        erase(session, customer, NOW, photos=NOWHERE)


def test_others_keep_everything(session: Session, bench: Bench, zenobia: Customer) -> None:
    other = bench.order(1, who="Ada", note="hers")
    erase(session, zenobia, NOW, photos=NOWHERE)
    assert (other.customer.name, other.note) == ("Ada", "hers")
    assert customers.find_customers(session)[0].customer is other.customer
