"""Which facts of an order, a payment and a numbered paper are sealed: money, days and numbers.

No name is among them, so what is personal can be taken out and the seals still hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from app.language import say, to_say
from app.models import Document, Order, Payment, Seal
from app.services.shop.seals import FIRST, chained, digest_of, seal

ORDER, PAYMENT, PAPER = "order", "payment", "paper"
_GONE = {
    PAYMENT: to_say("payment {number} was sealed and is gone"),
    PAPER: to_say("paper {number} was sealed and is gone"),
}
ON_PAPER = ("currency", "rate", "before_tax", "postage", "postage_net", "rounding", "paid")


def order_facts(order: Order) -> object:
    """What was agreed: tax, postage, and each line with its price and the cost of that day."""
    lines = [
        [line.id, line.variant_id, line.quantity, f"{line.unit_price:.4f}",
         None if line.unit_cost is None else f"{line.unit_cost:.4f}"]
        for line in sorted(order.lines, key=lambda line: line.id)
    ]  # fmt: skip
    return [
        order.number,
        f"{order.tax_rate:.6f}",
        int(order.before_tax),
        f"{order.postage:.4f}",
        lines,
    ]


def payment_facts(payment: Payment) -> object:
    """Money that changed hands."""
    return [
        payment.receipt_number, payment.order_id, f"{payment.amount:.4f}",
        payment.paid_on.isoformat(), payment.reverses_id,
    ]  # fmt: skip


def paper_facts(kind: str, number: int, order_id: int, content: Mapping[str, Any]) -> object:
    """The figures of a numbered paper, as they are kept."""
    lines = [[row["quantity"], row["price"], row["net"]] for row in content["lines"]]
    return [
        kind,
        number,
        order_id,
        content["issued_on"],
        *(content[key] for key in ON_PAPER),
        lines,
    ]


def seal_order(session: Session, order: Order) -> None:
    """Seal what was just agreed."""
    seal(session, ORDER, order.id, order_facts(order))


def seal_payment(session: Session, payment: Payment) -> None:
    """Seal a payment that was just written down."""
    seal(session, PAYMENT, payment.id, payment_facts(payment))


def seal_paper(session: Session, paper: Document) -> None:
    """Seal a paper that just took its number."""
    facts = paper_facts(paper.kind.value, paper.number, paper.order_id, paper.content)
    seal(session, PAPER, paper.id, facts)


def broken_seals(session: Session) -> Iterator[str]:
    """Where the chain is broken, and what is not as it was sealed, in words."""
    newest: dict[tuple[str, int], str] = {}
    before, number = FIRST, 0
    for one in session.scalars(select(Seal).order_by(Seal.number)):
        number += 1
        if one.number != number:
            yield say(
                "seal {number} is gone: what was agreed or paid then may have been changed",
                number=number,
            )
            number = one.number
        elif one.chained != chained(before, one.what, one.of_id, one.digest):
            yield say(
                "seal {number} does not follow from the one before it: it was changed",
                number=one.number,
            )
        before = one.chained
        newest[one.what, one.of_id] = one.digest
    for (what, of_id), (name, facts) in sealed_now(session).items():
        kept = newest.pop((what, of_id), None)
        if kept is None:
            yield say(
                "{what} has no seal: it was written by something else than this program",
                what=name,
            )
        elif kept != digest_of(facts):
            yield say(
                "{what} is not what it was when it was kept: an amount or a day was changed",
                what=name,
            )
    for what, of_id in newest:
        if what != ORDER:
            yield say(_GONE[what], number=of_id)


def sealed_now(session: Session) -> dict[tuple[str, int], tuple[str, object]]:
    """Everything that has a seal of its own: what it is called, and its facts."""
    found: dict[tuple[str, int], tuple[str, object]] = {}
    agreed = select(Order).where(Order.agreed_at.is_not(None)).options(selectinload(Order.lines))
    for order in session.scalars(agreed):
        found[ORDER, order.id] = say("order {number}", number=order.number), order_facts(order)
    for paid in session.scalars(select(Payment)):
        found[PAYMENT, paid.id] = (
            say("receipt {number}", number=paid.receipt_number),
            payment_facts(paid),
        )
    for paper in session.scalars(select(Document)):
        found[PAPER, paper.id] = (
            say("{paper} {number}", paper=say(paper.kind), number=paper.number),
            paper_facts(paper.kind.value, paper.number, paper.order_id, paper.content),
        )
    return found
