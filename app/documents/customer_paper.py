"""A paper for a customer as plain values: all that stands on it, and its sums.

It is kept as data beside its number, so it prints the same in ten years; PDF and XML are drawn
from it alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from datetime import date
from decimal import Decimal
from typing import Any

from app.core.invoicing import Part, Totals, net_of, totals
from app.core.money import currency
from app.core.states import DocumentKind
from app.language import ENGLISH, language, say, speaking, to_say

TITLES = {
    DocumentKind.QUOTE: to_say("Quote {number}"),
    DocumentKind.INVOICE: to_say("Invoice {number}"),
    DocumentKind.CREDIT_NOTE: to_say("Credit note {number}"),
}


@dataclass(frozen=True)
class Party:
    """Who writes or gets a paper; lines are as they were typed."""

    name: str
    address: tuple[str, ...] = ()
    country: str = ""
    contact: tuple[str, ...] = ()
    tax_number: str = ""
    register_number: str = ""


@dataclass(frozen=True)
class PaperLine:
    """So many of something at a price as it was agreed, and its net amount; money as decimals."""

    name: str
    quantity: int
    price: Decimal
    net: Decimal
    request: str = ""
    picture: str = ""
    """The file of a picture of it, among the shop's; empty where none stands on the paper."""

    @property
    def amount(self) -> Decimal:
        """So many at their price."""
        return self.quantity * self.price


@dataclass(frozen=True)
class CustomerPaper:
    """A quote, an invoice or a credit note.

    ``before_tax`` says that prices are before tax, else they include it; ``postage`` is priced
    alike and ``postage_net`` before tax. ``until`` is the day a quote holds to or an invoice is to
    be paid by; ``answers`` the number and day of the invoice that a credit note takes back, and
    ``spoken`` the language it is written in.
    """

    kind: DocumentKind
    number: int
    issued_on: date
    until: date | None
    shop: Party
    customer: Party
    order: int
    currency: str
    lines: tuple[PaperLine, ...]
    rate: Decimal
    before_tax: bool
    postage: Decimal
    postage_net: Decimal
    rounding: Decimal
    paid: Decimal
    delivered_on: date | None = None
    no_tax_because: str = ""
    pay_how: str = ""
    why: str = ""
    answers: tuple[int, date] | None = None
    spoken: str = field(default_factory=language.get)

    @property
    def totals(self) -> Totals:
        """Its sums by EN 16931."""
        parts = [Part(line.net, self.rate) for line in self.lines]
        post = [Part(self.postage_net, self.rate)] if self.postage_net else []
        return totals(
            parts, currency(self.currency), charges=post, paid=self.paid, rounding=self.rounding
        )

    @property
    def asked(self) -> Decimal:
        """What it comes to before anything was paid, as it was agreed."""
        return self.totals.gross + self.rounding

    @property
    def why_no_tax(self) -> str:
        """Why no tax is charged, in words; empty where some is."""
        if self.rate:
            return ""
        with speaking(self.spoken):
            return self.no_tax_because or say("No tax is charged.")

    @property
    def title(self) -> str:
        """Its name and number."""
        with speaking(self.spoken):
            return say(TITLES[self.kind], number=self.number)


def split(
    amounts: list[Decimal], rate: Decimal, code: str, *, before_tax: bool
) -> tuple[list[Decimal], Decimal]:
    """Agreed amounts as net amounts, and the rounding that leads back to what was agreed."""
    return (amounts, Decimal(0)) if before_tax else net_of(amounts, rate, currency(code))


def paper_data(paper: CustomerPaper) -> dict[str, Any]:
    """A paper as data that JSON can keep: amounts and days as text."""
    return {key: _plain(value) for key, value in asdict(paper).items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return str(value) if isinstance(value, Decimal | date) else value


def paper_from(data: Mapping[str, Any]) -> CustomerPaper:
    """The paper that was kept; what it does not say is as it is for a new one."""
    rest = {one.name: data[one.name] for one in fields(CustomerPaper) if one.name in data}
    money = ("rate", "postage", "postage_net", "rounding", "paid")
    days = ("issued_on", "until", "delivered_on")
    answers = data.get("answers")
    # Papers were in English before they said in what.
    return CustomerPaper(
        **{"spoken": ENGLISH}
        | rest
        | {name: Decimal(data[name]) for name in money}
        | {name: date.fromisoformat(data[name]) if data.get(name) else None for name in days}
        | {
            "kind": DocumentKind(data["kind"]),
            "shop": _party(data["shop"]), "customer": _party(data["customer"]),
            "lines": tuple(
                PaperLine(**row | {key: Decimal(row[key]) for key in ("price", "net")})
                for row in data["lines"]
            ),
            "answers": (answers[0], date.fromisoformat(answers[1])) if answers else None,
        }
    )  # fmt: skip


def _party(data: Mapping[str, Any]) -> Party:
    rows = {"address": tuple(data["address"]), "contact": tuple(data["contact"])}
    return Party(**{**data, **rows})
