"""Orders from a table: a row is a line, and rows that name the same order are one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.models import Channel, Variant
from app.services.exchange.rows import Reader, Values
from app.services.orders import customers
from app.services.orders.orders import LineAsked, log_order
from app.services.shop.names import folded

MOST_OF_ONE = 10_000
MOST_WORDS = 500


@dataclass(frozen=True)
class OrderRow:
    """A line of an order; ``order`` is what the rows of one order have in common, or nothing."""

    order: str
    customer: str
    reach: str
    channel: str
    wanted_by: date
    logged_on: date
    note: str
    postage: Decimal
    variant: int
    quantity: int
    price: Decimal
    request: str

    @property
    def of_order(self) -> tuple[object, ...]:
        """What every row of one order must say alike."""
        return (self.customer, self.channel, self.wanted_by, self.logged_on)


def read_order(reader: Reader, values: Values) -> OrderRow:
    """A line as it is typed on the page of an order, its days within reason."""
    known = reader.known
    variant = known.variants.get(folded(values["journal"]))
    if variant is None:
        raise DomainError(f"There is no journal called “{values['journal'][:60]}” to order.")
    channel = _channel(reader, values["channel"])
    price = variant.prices.get(channel)
    if values["price"]:
        price = reader.amount(values["price"], "Price each")
    if price is None:
        raise DomainError(f"Price each: there is none for “{channel}” yet, so the row must say it.")
    row = OrderRow(
        values["order"], reader.name(values["customer"], "Customer"),
        reader.name(values["reach"], "Reached at"), channel, reader.day(values["wanted_by"]),
        reader.day(values["logged"]), values["note"][:4000],
        reader.amount(values["postage"] or "0", "Postage"), variant.id,
        reader.whole(values["quantity"] or "1", "How many", 1), price, values["request"],
    )  # fmt: skip
    _sound(reader, row)
    return row


def _channel(reader: Reader, text: str) -> str:
    names = reader.known.channels
    if not text and names:
        return names[0]
    found = next((name for name in names if folded(name) == folded(text)), None)
    if found is None:
        raise DomainError(f"There is no way of selling called “{text[:60]}”.")
    return found


def _sound(reader: Reader, row: OrderRow) -> None:
    if row.quantity > MOST_OF_ONE:
        raise DomainError(f"How many: at most {MOST_OF_ONE}.")
    if len(row.request) > MOST_WORDS:
        raise DomainError(f"Request: at most {MOST_WORDS} characters.")
    if row.logged_on > reader.on:
        raise DomainError("Asked on: this day has not come yet.")
    if row.wanted_by < row.logged_on:
        raise DomainError("By when: that lies before the day it was asked for.")
    if reader.known.customers.get(folded(row.customer), 0) > 1:
        raise DomainError(
            f"There are several customers called “{row.customer}”: join them, or log this order "
            "by hand."
        )
    same = reader.orders.setdefault(row.order, row) if row.order else row
    if same.of_order != row.of_order:
        raise DomainError(
            f"Order {row.order}: its rows do not agree on customer, days, or how it is sold."
        )


def write_orders(session: Session, rows: Sequence[OrderRow]) -> None:
    """Log them as enquiries, each order with its lines in the order of the table."""
    channels = {channel.name: channel for channel in session.query(Channel)}
    groups: dict[object, list[OrderRow]] = {}
    for number, row in enumerate(rows):
        groups.setdefault(row.order or number, []).append(row)
    for group in groups.values():
        first = group[0]
        known = customers.customers_named(session, first.customer)
        log_order(
            session, customer_name=first.customer, channel=channels[first.channel],
            lines=[
                LineAsked(session.get_one(Variant, r.variant), r.quantity, r.price, r.request)
                for r in group
            ],
            wanted_by=first.wanted_by, logged_on=first.logged_on, reach=first.reach,
            note="\n".join(dict.fromkeys(r.note for r in group if r.note)),
            who=known[0].id if known else None,
            postage=sum((r.postage for r in group), Decimal(0)),
        )  # fmt: skip
