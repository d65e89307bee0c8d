"""Quotes, invoices and credit notes: numbers without gaps, kept as written, taken back once."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import DocumentKind
from app.documents.einvoice import invoice_xml
from app.models import Order
from app.services.designs.price_book import read_prices
from app.services.orders import customers, deliveries, documents, orders, slips
from app.services.shop.letterhead import save_letterhead
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench
from tests.web.orders.test_documents import text_of

SOON = DAY + timedelta(days=14)


@pytest.fixture
def bench(session: Session) -> Bench:
    found = Bench(session)
    the_shop(session).tax = Decimal("0.2")
    head = {"address": "1 Quay\nMersea", "country": "GB", "tax_number": "GB 123", "pay_how": "cash"}
    save_letterhead(session, head, None)
    return found


def test_a_quote_holds_what_the_enquiry_asked_that_day(session: Session, bench: Bench) -> None:
    order = bench.order(2)
    made = documents.write_quote(session, order, DAY, SOON)
    order.lines[0].unit_price = Decimal(99)
    paper = documents.paper_of(made)
    assert (paper.asked, paper.lines[0].price, paper.until) == (80, 40, SOON)
    assert documents.write_quote(session, order, DAY, SOON).number == 2
    orders.agree_order(session, order, DAY)
    with pytest.raises(DomainError, match="before it is accepted"):
        documents.write_quote(session, order, DAY, SOON)


def test_an_invoice_says_what_is_wanted_paid_and_due(session: Session, bench: Bench) -> None:
    order = bench.agreed(3, postage=Decimal("4.80"))
    orders.take_payment(session, order, Decimal(30), DAY, "cash")
    paper = documents.paper_of(documents.write_invoice(session, order, DAY, SOON))
    assert (paper.asked, paper.paid, paper.totals.due) == (
        Decimal("124.80"), 30, Decimal("94.80")
    )  # fmt: skip
    assert paper.totals.due == order.balance
    assert paper.totals.net == Decimal("104.00")
    assert (paper.shop.address, paper.shop.tax_number) == (("1 Quay", "Mersea"), "GB123")
    assert (paper.customer.country, paper.delivered_on) == ("GB", None)


def test_one_invoice_stands_at_a_time(session: Session, bench: Bench) -> None:
    order = bench.agreed(3)
    first = documents.write_invoice(session, order, DAY, SOON)
    with pytest.raises(DomainError, match="Invoice 1 is written for this order already"):
        documents.write_invoice(session, order, DAY, SOON)
    with pytest.raises(DomainError, match="Say why"):
        documents.write_credit_note(session, first, DAY, " ")
    note = documents.write_credit_note(session, first, DAY, "wrong address")
    with pytest.raises(DomainError, match="was taken back already"):
        documents.write_credit_note(session, first, DAY, "again")
    with pytest.raises(DomainError, match="Only an invoice"):
        documents.write_credit_note(session, note, DAY, "again")
    paper, was = documents.paper_of(note), documents.paper_of(first)
    assert (paper.totals.gross, paper.answers) == (was.totals.gross, (1, DAY))
    second = documents.write_invoice(session, order, DAY, SOON)
    assert [(d.kind, d.number) for d in documents.documents_of(session, order)] == [
        (DocumentKind.INVOICE, 1), (DocumentKind.CREDIT_NOTE, 1), (DocumentKind.INVOICE, 2),
    ]  # fmt: skip
    assert documents.invoice_of(documents.documents_of(session, order)) is second


def test_an_order_that_asks_other_money_than_its_invoice_says_so(
    session: Session, bench: Bench
) -> None:
    stock.receive(session, bench.variant, 3, Decimal(30), DAY)
    order = bench.agreed(3)
    made = documents.write_invoice(session, order, DAY, SOON)
    assert not documents.says_something_else(session, made, order)
    [line] = order.lines
    deliveries.deliver(session, order, {line.id: 2}, DAY)
    deliveries.close_short(session, order, DAY)
    assert documents.says_something_else(session, made, order)
    again = _another(session, order, made.id)
    assert (again.asked, again.lines[0].quantity, again.delivered_on) == (80, 2, DAY)


def _another(session: Session, order: Order, number: int) -> documents.CustomerPaper:
    written = documents.documents_of(session, order)
    documents.write_credit_note(session, next(d for d in written if d.id == number), DAY, "fewer")
    return documents.paper_of(documents.write_invoice(session, order, DAY, SOON))


@pytest.mark.parametrize(
    ("head", "words"),
    [({"address": " "}, "needs the shop's address"), ({"tax_number": ""}, "needs the shop's tax number")],
)  # fmt: skip
def test_what_an_invoice_needs_is_asked_for(
    session: Session, bench: Bench, head: dict[str, str], words: str
) -> None:
    save_letterhead(session, head, None)
    with pytest.raises(DomainError, match=words):
        documents.write_invoice(session, bench.agreed(), DAY, SOON)
    the_shop(session).tax = Decimal(0)
    if "tax_number" in head:
        assert documents.write_invoice(session, bench.agreed(), DAY, SOON).number == 1


def test_numbers_and_days_run_the_same_way(session: Session, bench: Bench) -> None:
    documents.write_invoice(session, bench.agreed(), DAY, SOON)
    order = bench.agreed(logged_on=DAY - timedelta(days=3))
    with pytest.raises(DomainError, match="cannot be of a day before"):
        documents.write_invoice(session, order, DAY - timedelta(days=1), SOON)
    with pytest.raises(DomainError, match="The order is of 1 March 2027 only"):
        documents.write_invoice(session, bench.agreed(), DAY - timedelta(days=1), SOON)
    with pytest.raises(DomainError, match="due before it is written"):
        documents.write_invoice(session, bench.agreed(), DAY, DAY - timedelta(days=1))
    with pytest.raises(DomainError, match="there is nothing to invoice"):
        documents.write_invoice(session, bench.order(), DAY, SOON)


def test_a_day_may_be_the_last_one(session: Session, bench: Bench) -> None:
    assert documents.write_quote(session, bench.order(), DAY, DAY).until == DAY
    assert documents.write_invoice(session, bench.agreed(), DAY, DAY).until == DAY


def test_letters_that_are_not_there_are_found_wherever_they_stand(
    session: Session, bench: Bench
) -> None:
    order = bench.order()
    assert documents.will_not_print(documents.preview(session, order, DAY)) == ""
    order.lines[0].asked_for = "a 山 on it"
    order.customer.address = "5 עיר"
    save_letterhead(session, {"pay_how": "🎉"}, None)
    found = documents.will_not_print(documents.preview(session, order, DAY))
    assert set(found) == set("山עיר🎉")


def test_a_refused_invoice_leaves_no_gap(session: Session, bench: Bench) -> None:
    for _ in range(2):
        with pytest.raises(DomainError), session.begin_nested():
            documents.write_invoice(session, bench.agreed(), DAY, date(2001, 1, 1))
    assert documents.write_invoice(session, bench.agreed(), DAY, SOON).number == 1


def test_written_papers_stay_when_shop_and_customer_change(session: Session, bench: Bench) -> None:
    order = bench.agreed()
    made = documents.write_invoice(session, order, DAY, SOON)
    was = documents.document_pdf(session, made)
    save_letterhead(session, {"address": "elsewhere"}, None)
    customer = order.customer
    values = {"name": "Ada Bell", "email": "", "phone": "", "address": "new", "note": "",
              "country": "de", "tax_number": "DE 12"}  # fmt: skip
    customers.save_customer(session, customer, values, None)
    session.expire_all()
    paper = documents.paper_of(made)
    assert (paper.shop.address, paper.customer.name) == (("1 Quay", "Mersea"), "Ada")
    assert (customer.country, customer.tax_number) == ("DE", "DE12")
    assert was[:5] == documents.document_pdf(session, made)[:5] == b"%PDF-"
    with pytest.raises(DomainError, match="no country"):
        customers.save_customer(session, customer, values | {"country": "XX"}, None)


def test_only_what_was_paid_by_then_counts_and_the_last_delivery_that_stands(
    session: Session, bench: Bench
) -> None:
    stock.receive(session, bench.variant, 3, Decimal(30), DAY)
    order = bench.agreed(3)
    later = DAY + timedelta(days=5)
    wrong = deliveries.deliver(session, order, {order.lines[0].id: 3}, later)
    deliveries.take_back_delivery(session, order, wrong)
    deliveries.deliver(session, order, {order.lines[0].id: 3}, DAY)
    orders.take_payment(session, order, Decimal(20), DAY, "cash")
    orders.take_payment(session, order, Decimal(30), later, "cash")
    paper = documents.paper_of(documents.write_invoice(session, order, DAY, SOON))
    assert (paper.paid, paper.delivered_on) == (20, DAY)
    assert slips.slip_pdf(session, read_prices(session, DAY), order, wrong, DAY) is None
    assert slips.slip_pdf(session, read_prices(session, DAY), order, None, DAY) is None


def test_another_journal_at_the_same_sum_is_something_else(session: Session, bench: Bench) -> None:
    order = bench.agreed(4)
    made = documents.write_invoice(session, order, DAY, SOON)
    orders.move_order(session, order, "enquiry", DAY, None)
    assert documents.says_something_else(session, made, order)
    other = bench.begin("Other").current.variants[0]
    lines = [orders.LineAsked(other, 4, Decimal(40))]
    orders.change_order(session, order, channel=order.channel, lines=lines, note="", version=None,
                        wanted_by=order.wanted_by)  # fmt: skip
    orders.agree_order(session, order, DAY)
    assert order.total == documents.paper_of(made).asked
    assert documents.says_something_else(session, made, order)


def test_a_changed_rate_and_a_cancelled_order_are_something_else(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed(4)
    made = documents.write_invoice(session, order, DAY, SOON)
    assert not documents.says_something_else(session, made, order)
    order.tax_rate = Decimal("0.25")
    assert documents.says_something_else(session, made, order)
    order.tax_rate = Decimal("0.2")
    orders.cancel_order(session, order, DAY, None)
    assert documents.says_something_else(session, made, order)


def test_a_quote_is_at_the_tax_of_its_day(session: Session, bench: Bench) -> None:
    order = bench.order(1)
    the_shop(session).tax, bench.channel.wholesale = Decimal("0.25"), True
    paper = documents.paper_of(documents.write_quote(session, order, DAY, SOON))
    assert (paper.rate, paper.before_tax, paper.asked) == (Decimal("0.25"), True, 50)
    assert order.total == 50
    assert documents.quoted(session, order, SOON) is not None
    assert documents.quoted(session, order, SOON + timedelta(days=1)) is None


def test_where_only_the_postage_is_left_it_is_the_line(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.variant, 2, Decimal(30), DAY)
    order = bench.agreed(2, postage=Decimal(6))
    deliveries.deliver(session, order, {order.lines[0].id: 2}, DAY)
    deliveries.bring_back(session, order.lines[0], 2, DAY, "no", sound=True, replaced=False)
    paper = documents.paper_of(documents.write_invoice(session, order, DAY, SOON))
    assert [(line.name, line.price) for line in paper.lines] == [("Postage", 6)]
    assert (paper.asked, paper.postage) == (6, 0)
    assert invoice_xml(paper)


def test_what_comes_out_of_the_database_keeps_the_standards_decimals(
    session: Session, bench: Bench
) -> None:
    order = bench.agreed(3, postage=Decimal("4.80"))
    orders.take_payment(session, order, Decimal(30), DAY, "cash")
    session.commit()
    session.expire_all()
    made = documents.write_invoice(session, order, DAY, SOON)
    session.commit()
    session.expire_all()
    xml = invoice_xml(documents.paper_of(made)).decode()
    amounts = re.findall(r"Amount[^>]*>(-?[0-9.]+)<", xml)
    assert len(amounts) > 8
    assert all(re.fullmatch(r"-?[0-9]+\.[0-9]{2}", amount) for amount in amounts)


def test_a_credit_note_is_of_the_shop_that_wrote_the_invoice(
    session: Session, bench: Bench
) -> None:
    made = documents.write_invoice(session, bench.agreed(), DAY, SOON)
    save_letterhead(session, {"address": "", "tax_number": ""}, None)
    note = documents.paper_of(documents.write_credit_note(session, made, DAY, "wrong"))
    assert note.shop == documents.paper_of(made).shop
    assert b"IBAN" not in invoice_xml(note)


def test_a_receipt_that_was_a_mistake_says_so(session: Session, bench: Bench) -> None:
    order = bench.agreed()
    payment = orders.take_payment(session, order, Decimal(30), DAY, "cash")
    orders.mark_mistaken(session, payment, DAY)
    assert "see receipt 2" in text_of(slips.receipt_pdf(session, payment))
    assert "Answers receipt 1" in text_of(slips.receipt_pdf(session, order.payments[1]))


@pytest.mark.parametrize(
    ("kind", "change", "words"),
    [("invoice", {"number": 9}, "something else than it says"),
     ("invoice", {"postage": "9"}, "do not follow from its prices"),
     ("credit note", {"rate": "0.25"}, "not for what invoice 1 asked")],
)  # fmt: skip
def test_a_paper_that_was_tampered_with_is_found(
    session: Session, bench: Bench, kind: str, change: dict[str, object], words: str
) -> None:
    made = documents.write_invoice(session, bench.agreed(), DAY, SOON)
    note = documents.write_credit_note(session, made, DAY, "wrong")
    assert check_books(session) == []
    which = made if kind == "invoice" else note
    which.content = which.content | change
    assert any(words in text for text in check_books(session))
