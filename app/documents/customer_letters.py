"""Quotes, invoices, credit notes, receipts and packing slips in words, for :mod:`letter`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from app.core.money import currency
from app.core.numbers import styled
from app.core.states import DocumentKind
from app.documents.customer_paper import CustomerPaper, Party
from app.documents.letter import Letter

NONE: Mapping[str, bytes | None] = {}
MOST_LINES = 10
"""Lines of an address that a head has room for; forms take no more."""


def day_said(day: date) -> str:
    """A day in words, as it stands on a paper."""
    return f"{day.day} {day:%B %Y}"


def paper_letter(
    paper: CustomerPaper, logo: bytes | None = None, pictures: Mapping[str, bytes | None] = NONE
) -> Letter:
    """A quote, an invoice or a credit note; ``pictures`` by the files that its lines name."""
    money = currency(paper.currency)
    tax_in = paper.rate > 0 and not paper.before_tax
    heads = ("What", "How many", f"Each, {money.sign.strip()}", f"Amount, {money.sign.strip()}")
    rows: list[tuple[str | tuple[str, str], ...]] = [
        (
            (line.name, line.request),
            str(line.quantity),
            money.figure(line.price),
            money.figure(line.amount),
        )
        for line in paper.lines
    ]
    if paper.postage:
        rows.append(("Postage", "", "", money.figure(paper.postage)))
    return Letter(
        title=paper.title, sender=_head(paper.shop),
        recipient=_address(paper.customer, paper.shop), facts=tuple(_facts(paper)), heads=heads,
        rows=tuple(rows), figures=frozenset({1, 2, 3}), sums=tuple(_sums(paper, tax_in=tax_in)),
        below=tuple(_below(paper, tax_in=tax_in)), foot=_foot(paper.shop), logo=logo,
        pictures=tuple(pictures.get(line.picture) for line in paper.lines),
    )  # fmt: skip


def _facts(paper: CustomerPaper) -> list[tuple[str, str]]:
    rows = [("Date", day_said(paper.issued_on)), ("Order", str(paper.order))]
    if paper.delivered_on:
        rows.append(("Delivered", day_said(paper.delivered_on)))
    if paper.until and paper.kind == DocumentKind.QUOTE:
        rows.append(("Holds until", day_said(paper.until)))
    if paper.until and paper.kind == DocumentKind.INVOICE and paper.totals.due > 0:
        rows.append(("To pay by", day_said(paper.until)))
    if paper.customer.tax_number:
        rows.append(("Your tax number", paper.customer.tax_number))
    return rows


def _sums(paper: CustomerPaper, *, tax_in: bool) -> list[tuple[str, str, bool]]:
    """Sums that add up as they stand there, whether prices are before tax or include it."""
    money, sums = currency(paper.currency), paper.totals
    rate = styled(f"{(paper.rate * 100).normalize():f}%")
    found: list[tuple[str, str, bool]] = []
    if paper.rate:
        found.append(("Before tax", money.show(sums.net), False))
        found.append((f"Tax at {rate}", money.show(sums.tax), False))
        if paper.rounding:
            found.append(("Rounding", money.show(paper.rounding), False))
    found.append(("Total", money.show(paper.asked), True))
    if paper.kind == DocumentKind.INVOICE:
        if paper.paid:
            found.append(("Paid already", money.show(-paper.paid), False))
        words = "To pay" if sums.due >= 0 else "You get back"
        found.append((words, money.show(abs(sums.due)), True))
    return found


def _below(paper: CustomerPaper, *, tax_in: bool) -> list[tuple[str, tuple[str, ...]]]:
    found: list[tuple[str, tuple[str, ...]]] = []
    if paper.answers:
        number, day = paper.answers
        words = f"This takes back invoice {number} of {day_said(day)}."
        found.append(("", (words + (f" {paper.why}" if paper.why else ""),)))
    if tax_in:
        found.append(("", ("Each price and amount above includes tax.",)))
    elif paper.why_no_tax:
        found.append(("", (paper.why_no_tax,)))
    if paper.kind == DocumentKind.INVOICE and paper.pay_how and paper.totals.due > 0:
        found.append(("How to pay", (f"{paper.pay_how}\nPlease name {paper.title.lower()}.",)))
    return found


def _head(shop: Party) -> tuple[str, ...]:
    return (shop.name, *shop.address[:MOST_LINES], *shop.contact[:MOST_LINES])


def _address(party: Party, shop: Party) -> tuple[str, ...]:
    """Whom it goes to; the country where it is another than the shop's."""
    abroad = (party.country,) if party.country and party.country != shop.country else ()
    return (party.name, *party.address[:MOST_LINES], *abroad)


def _foot(shop: Party) -> tuple[str, ...]:
    rows = (("Tax number", shop.tax_number), ("Register number", shop.register_number))
    return tuple(f"{label} {number}" for label, number in rows if number)


@dataclass(frozen=True)
class Received:
    """Money that changed hands for an order: below zero it went back. ``paid`` is what is paid by
    it and those before; ``answers`` the receipt that was written by mistake, ``answered_by``
    the one that takes this back.
    """

    number: int
    on: date
    amount: Decimal
    how: str
    order: int
    paid: Decimal
    currency: str
    answers: int | None = None
    answered_by: int | None = None


def receipt_letter(
    shop: Party, customer: Party, got: Received, logo: bytes | None = None
) -> Letter:
    """A receipt for a payment of an order, or for what was given back."""
    money = currency(got.currency)
    what = "Given back" if got.amount < 0 else "Received with thanks"
    if got.answered_by is not None:
        what = f"Written by mistake, see receipt {got.answered_by}"
    if got.answers is not None:
        what = f"Answers receipt {got.answers}, which was written by mistake"
    return Letter(
        title=f"Receipt {got.number}", sender=_head(shop), recipient=_address(customer, shop),
        facts=(("Date", day_said(got.on)), ("Order", str(got.order)), ("How", got.how)),
        heads=("What", f"Amount, {money.sign.strip()}"),
        rows=((f"{what}, for order {got.order}", money.figure(got.amount)),),
        figures=frozenset({1}),
        sums=(("Paid so far", money.show(got.paid), True),),
        below=(), foot=_foot(shop), logo=logo,
    )  # fmt: skip


def mail_text(paper: CustomerPaper, still_to_pay: Decimal | None = None) -> str:
    """What to write in the letter that a paper goes with, to copy and change.

    ``still_to_pay`` is what its order lacks by now, where something was paid since.
    """
    money, due = currency(paper.currency), paper.totals.due
    due = due if still_to_pay is None else min(due, still_to_pay)
    total = money.show(paper.asked)
    says = {
        DocumentKind.QUOTE: f"here is what your order would come to: {total}"
        + (f". It holds until {day_said(paper.until)}." if paper.until else "."),
        DocumentKind.INVOICE: f"here is the invoice for your order: {total} in all"
        + (f", of which {money.show(paper.paid)} is paid" if paper.paid else "") + ".",
        DocumentKind.CREDIT_NOTE: "with this I take an invoice back: "
        + (f"number {paper.answers[0]}, " if paper.answers else "") + f"{total} in all.",
    }[paper.kind]  # fmt: skip
    lines = [f"{line.quantity} × {line.name}" + (f", {line.request}" if line.request else "")
             for line in paper.lines]  # fmt: skip
    ask = []
    if paper.kind == DocumentKind.INVOICE and due < 0:
        ask = [f"{money.show(-due)} comes back to you."]
    if paper.kind == DocumentKind.INVOICE and due > 0:
        by = f" by {day_said(paper.until)}" if paper.until else ""
        ask = [f"Please pay {money.show(due)}{by}.", *filter(None, [paper.pay_how])]
    return "\n".join(
        [f"Dear {paper.customer.name},", "", says, "", *lines, "", *ask, *([""] if ask else []),
         "Kind regards", paper.shop.name]
    )  # fmt: skip


@dataclass(frozen=True)
class Packed:
    """What is in a parcel: name, request, how many of it are here, and how many follow later."""

    name: str
    request: str
    here: int
    later: int


def slip_letter(
    shop: Party,
    customer: Party,
    order: int,
    on: date,
    rows: tuple[Packed, ...],
    care: tuple[str, ...],
    cautions: tuple[str, ...],
    logo: bytes | None = None,
) -> Letter:
    """A packing slip: no prices, but how to care for what is in the parcel, and what to mind."""
    later = any(row.later for row in rows)
    heads = ("What", "In this parcel", *(("Follow later",) if later else ()))
    below = [("Care", care), ("Mind", cautions)]
    return Letter(
        title="Packing slip", sender=_head(shop), recipient=_address(customer, shop),
        facts=(("Date", day_said(on)), ("Order", str(order))), heads=heads,
        rows=tuple(
            ((row.name, row.request), str(row.here), *((str(row.later or "–"),) if later else ()))
            for row in rows
        ),
        figures=frozenset({1, 2}), sums=(),
        below=tuple((head, words) for head, words in below if words), foot=_foot(shop), logo=logo,
    )  # fmt: skip
