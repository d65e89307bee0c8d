"""Numbers that have no gaps, and the papers that bear them: what ``tallyfold check`` looks at."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.states import DocumentKind
from app.documents.customer_paper import CustomerPaper, split
from app.language import say, to_say
from app.models import Batch, Document, NumberSeries, Order, Payment, Purchase, Sale, Statement
from app.services.orders.documents import paper_of

NUMBERS = {
    "order": to_say("order numbers"),
    "purchase": to_say("purchase numbers"),
    "batch": to_say("batch numbers"),
    "receipt": to_say("receipt numbers"),
    "sale": to_say("sale numbers"),
    "statement": to_say("statement numbers"),
    DocumentKind.QUOTE: to_say("quote numbers"),
    DocumentKind.INVOICE: to_say("invoice numbers"),
    DocumentKind.CREDIT_NOTE: to_say("credit note numbers"),
}


def check_numbers(session: Session) -> Iterator[str]:
    """Numbers have no gaps and no doubles."""
    every: dict[str, list[int]] = {
        "order": list(session.scalars(select(Order.number))),
        "purchase": list(session.scalars(select(Purchase.number))),
        "batch": list(session.scalars(select(Batch.number))),
        "receipt": list(session.scalars(select(Payment.receipt_number))),
        "sale": list(session.scalars(select(Sale.number).where(Sale.number.is_not(None)))),
    }
    every["statement"] = list(session.scalars(select(Statement.number)))
    for kind in DocumentKind:
        of_kind = select(Document.number).where(Document.kind == kind)
        every[kind.value] = list(session.scalars(of_kind))
    for name, found in every.items():
        series = session.get(NumberSeries, name)
        last = series.next_number - 1 if series else 0
        if sorted(found) != list(range(1, last + 1)):
            yield say(
                "{numbers} do not run from 1 to {last} without gaps",
                numbers=say(NUMBERS[name]),
                last=last,
            )


def check_papers(session: Session) -> Iterator[str]:
    """What stands on a numbered paper is what was numbered, and its sums follow from its prices."""
    for document in session.scalars(select(Document).order_by(Document.id)):
        paper = paper_of(document)
        name = say("{paper} {number}", paper=say(document.kind), number=document.number)
        if (paper.kind, paper.number, paper.issued_on) != (
            document.kind, document.number, document.issued_on,
        ):  # fmt: skip
            yield say("{paper} is on record as something else than it says", paper=name)
        amounts = [*(line.amount for line in paper.lines), paper.postage]
        nets, rounding = split(amounts, paper.rate, paper.currency, before_tax=paper.before_tax)
        if [*(line.net for line in paper.lines), paper.postage_net, paper.rounding] != [
            *nets, rounding,
        ]:  # fmt: skip
            yield say("{paper}: its amounts before tax do not follow from its prices", paper=name)
        answered = document.answers
        if answered is not None and _asked(paper_of(answered)) != _asked(paper):
            yield say(
                "{paper} is not for what invoice {number} asked", paper=name, number=answered.number
            )


def _asked(paper: CustomerPaper) -> object:
    lines = [(line.name, line.quantity, line.price) for line in paper.lines]
    return lines, paper.postage, paper.rate, paper.rounding
