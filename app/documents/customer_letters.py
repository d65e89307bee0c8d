"""Quotes, invoices, credit notes, receipts and packing slips in words, for :mod:`letter`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from app.core.money import currency
from app.core.numbers import styled
from app.core.states import DocumentKind
from app.dates import whole_day
from app.documents.customer_paper import CustomerPaper, PaperLine, Party
from app.documents.letter import Letter
from app.language import say, speaking, to_say

NONE: Mapping[str, bytes | None] = {}
MOST_LINES = 10
"""Lines of an address that a head has room for; forms take no more."""


def paper_letter(
    paper: CustomerPaper, logo: bytes | None = None, pictures: Mapping[str, bytes | None] = NONE
) -> Letter:
    """A quote, an invoice or a credit note; ``pictures`` by the files that its lines name."""
    with speaking(paper.spoken):
        return _paper_letter(paper, logo, pictures)


def _paper_letter(
    paper: CustomerPaper, logo: bytes | None, pictures: Mapping[str, bytes | None]
) -> Letter:
    money = currency(paper.currency)
    tax_in = paper.rate > 0 and not paper.before_tax
    sign = money.sign.strip()
    heads = (
        say("What"), say("How many"), say("Each, {currency}", currency=sign),
        say("Amount, {currency}", currency=sign),
    )  # fmt: skip
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
        rows.append((say("Postage"), "", "", money.figure(paper.postage)))
    return Letter(
        title=paper.title, sender=_head(paper.shop),
        recipient=_address(paper.customer, paper.shop), facts=tuple(_facts(paper)), heads=heads,
        rows=tuple(rows), figures=frozenset({1, 2, 3}), sums=tuple(_sums(paper, tax_in=tax_in)),
        below=tuple(_below(paper, tax_in=tax_in)), foot=_foot(paper.shop), logo=logo,
        pictures=tuple(pictures.get(line.picture) for line in paper.lines),
    )  # fmt: skip


def _facts(paper: CustomerPaper) -> list[tuple[str, str]]:
    rows = [(say("Date"), whole_day(paper.issued_on)), (say("Order"), str(paper.order))]
    if paper.delivered_on:
        rows.append((say("Delivered"), whole_day(paper.delivered_on)))
    if paper.until and paper.kind == DocumentKind.QUOTE:
        rows.append((say("Holds until"), whole_day(paper.until)))
    if paper.until and paper.kind == DocumentKind.INVOICE and paper.totals.due > 0:
        rows.append((say("To pay by"), whole_day(paper.until)))
    if paper.customer.tax_number:
        rows.append((say("Your tax number"), paper.customer.tax_number))
    return rows


def _sums(paper: CustomerPaper, *, tax_in: bool) -> list[tuple[str, str, bool]]:
    """Sums that add up as they stand there, whether prices are before tax or include it."""
    money, sums = currency(paper.currency), paper.totals
    rate = styled(f"{(paper.rate * 100).normalize():f}%")
    found: list[tuple[str, str, bool]] = []
    if paper.rate:
        found.append((say("Before tax"), money.show(sums.net), False))
        found.append((say("Tax at {rate}", rate=rate), money.show(sums.tax), False))
        if paper.rounding:
            found.append((say("Rounding"), money.show(paper.rounding), False))
    found.append((say("Total"), money.show(paper.asked), True))
    if paper.kind == DocumentKind.INVOICE:
        if paper.paid:
            found.append((say("Paid already"), money.show(-paper.paid), False))
        words = say("To pay") if sums.due >= 0 else say("You get back")
        found.append((words, money.show(abs(sums.due)), True))
    return found


def _below(paper: CustomerPaper, *, tax_in: bool) -> list[tuple[str, tuple[str, ...]]]:
    found: list[tuple[str, tuple[str, ...]]] = []
    if paper.answers:
        number, day = paper.answers
        words = say("This takes back invoice {number} of {day}.", number=number, day=whole_day(day))
        found.append(("", (words + (f" {paper.why}" if paper.why else ""),)))
    if tax_in:
        found.append(("", (say("Each price and amount above includes tax."),)))
    elif paper.why_no_tax:
        found.append(("", (paper.why_no_tax,)))
    if paper.kind == DocumentKind.INVOICE and paper.pay_how and paper.totals.due > 0:
        named = say("Please name invoice {number}.", number=paper.number)
        found.append((say("How to pay"), (f"{paper.pay_how}\n{named}",)))
    return found


def _head(shop: Party) -> tuple[str, ...]:
    return (shop.name, *shop.address[:MOST_LINES], *shop.contact[:MOST_LINES])


def _address(party: Party, shop: Party) -> tuple[str, ...]:
    """Whom it goes to; the country where it is another than the shop's."""
    abroad = (party.country,) if party.country and party.country != shop.country else ()
    return (party.name, *party.address[:MOST_LINES], *abroad)


def _foot(shop: Party) -> tuple[str, ...]:
    rows = (
        (shop.tax_number, to_say("Tax number {number}")),
        (shop.register_number, to_say("Register number {number}")),
    )
    return tuple(say(words, number=number) for number, words in rows if number)


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
    return Letter(
        title=say("Receipt {number}", number=got.number), sender=_head(shop),
        recipient=_address(customer, shop),
        facts=(
            (say("Date"), whole_day(got.on)), (say("Order"), str(got.order)),
            (say("How"), got.how),
        ),
        heads=(say("What"), say("Amount, {currency}", currency=money.sign.strip())),
        rows=((_what_for(got), money.figure(got.amount)),),
        figures=frozenset({1}),
        sums=((say("Paid so far"), money.show(got.paid), True),),
        below=(), foot=_foot(shop), logo=logo,
    )  # fmt: skip


def _what_for(got: Received) -> str:
    if got.answers is not None:
        return say(
            "Answers receipt {receipt}, which was written by mistake, for order {order}",
            receipt=got.answers,
            order=got.order,
        )
    if got.answered_by is not None:
        return say(
            "Written by mistake, see receipt {receipt}, for order {order}",
            receipt=got.answered_by,
            order=got.order,
        )
    if got.amount < 0:
        return say("Given back, for order {order}", order=got.order)
    return say("Received with thanks, for order {order}", order=got.order)


def mail_text(paper: CustomerPaper, still_to_pay: Decimal | None = None) -> str:
    """What to write in the letter that a paper goes with, to copy and change.

    ``still_to_pay`` is what its order lacks by now, where something was paid since.
    """
    due = paper.totals.due
    due = due if still_to_pay is None else min(due, still_to_pay)
    with speaking(paper.spoken):
        ask = _asked(paper, due) if paper.kind == DocumentKind.INVOICE else []
        return "\n".join(
            [say("Dear {name},", name=paper.customer.name), "", _beginning(paper), "",
             *(_line(line) for line in paper.lines), "", *ask, *([""] if ask else []),
             say("Kind regards"), paper.shop.name]
        )  # fmt: skip


def _beginning(paper: CustomerPaper) -> str:
    """What the letter brings, and what that comes to."""
    money = currency(paper.currency)
    total = money.show(paper.asked)
    if paper.kind == DocumentKind.QUOTE:
        said = say("here is what your order would come to: {total}.", total=total)
        if not paper.until:
            return said
        return f"{said} " + say("It holds until {day}.", day=whole_day(paper.until))
    if paper.kind == DocumentKind.INVOICE:
        if not paper.paid:
            return say("here is the invoice for your order: {total} in all.", total=total)
        return say(
            "here is the invoice for your order: {total} in all, of which {paid} is paid.",
            total=total,
            paid=money.show(paper.paid),
        )
    if not paper.answers:
        return say("with this I take an invoice back: {total} in all.", total=total)
    return say(
        "with this I take an invoice back: number {number}, {total} in all.",
        number=paper.answers[0],
        total=total,
    )


def _line(line: PaperLine) -> str:
    return f"{line.quantity} × {line.name}" + (f", {line.request}" if line.request else "")


def _asked(paper: CustomerPaper, due: Decimal) -> list[str]:
    """What to do about an invoice: pay it, or wait for what comes back."""
    money = currency(paper.currency)
    if due < 0:
        return [say("{amount} comes back to you.", amount=money.show(-due))]
    if due == 0:
        return []
    if paper.until:
        day = whole_day(paper.until)
        ask = say("Please pay {amount} by {day}.", amount=money.show(due), day=day)
    else:
        ask = say("Please pay {amount}.", amount=money.show(due))
    return [ask, *filter(None, [paper.pay_how])]


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
    heads = (say("What"), say("In this parcel"), *((say("Follow later"),) if later else ()))
    below = [(say("Care"), care), (say("Mind"), cautions)]
    return Letter(
        title=say("Packing slip"), sender=_head(shop), recipient=_address(customer, shop),
        facts=((say("Date"), whole_day(on)), (say("Order"), str(order))), heads=heads,
        rows=tuple(
            ((row.name, row.request), str(row.here), *((str(row.later or "–"),) if later else ()))
            for row in rows
        ),
        figures=frozenset({1, 2}), sums=(),
        below=tuple((head, words) for head, words in below if words), foot=_foot(shop), logo=logo,
    )  # fmt: skip
