"""Orders from a table: a row is a line, and rows that name the same order are one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.language import say, to_say
from app.models import Channel, Customer, Variant
from app.services.exchange.rows import Reader, Values
from app.services.orders.orders import MOST_LINES, LineAsked, log_order
from app.services.shop.names import folded

MOST_OF_ONE = 10_000
MOST_WORDS = 500
LONGEST_NUMBER = 60


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
        raise DomainError(
            say("There is no journal called “{journal}” to order.", journal=values["journal"][:60])
        )
    values = _as_its_order(reader, values)
    channel = _channel(reader, values["channel"])
    price = variant.prices.get(channel)
    if values["price"]:
        price = reader.amount(values["price"], to_say("Price each"))
    if price is None:
        raise DomainError(
            say(
                "Price each: there is none for “{channel}” yet, so the row must say it.",
                channel=channel,
            )
        )
    row = OrderRow(
        values["order"], reader.name(values["customer"], to_say("Customer")),
        reader.name(values["reach"], to_say("Reached at")), channel,
        reader.day(values["wanted_by"]), reader.day(values["logged"]), values["note"][:4000],
        reader.amount(values["postage"] or "0", to_say("Postage")), variant.id,
        reader.whole(values["quantity"] or "1", to_say("How many"), 1), price, values["request"],
    )  # fmt: skip
    _sound(reader, row)
    return row


def _as_its_order(reader: Reader, values: Values) -> Values:
    """What a row leaves empty is as the first row of its order has it."""
    rows = reader.orders.get(values["order"], []) if values["order"] else []
    if not rows:
        return values
    first: OrderRow = rows[0]
    said = {"channel": first.channel, "logged": first.logged_on.isoformat()}
    return {**values, **{key: value for key, value in said.items() if not values[key]}}


def _channel(reader: Reader, text: str) -> str:
    names = reader.known.channels
    if not text and names:
        return names[0]
    found = next((name for name in names if folded(name) == folded(text)), None)
    if found is None:
        raise DomainError(say("There is no way of selling called “{channel}”.", channel=text[:60]))
    return found


def _sound(reader: Reader, row: OrderRow) -> None:
    if row.quantity > MOST_OF_ONE:
        raise DomainError(say("How many: at most {most}.", most=MOST_OF_ONE))
    if len(row.request) > MOST_WORDS:
        raise DomainError(say("Request: at most {most} characters.", most=MOST_WORDS))
    if row.logged_on > reader.on:
        raise DomainError(say("Asked on: this day has not come yet."))
    if row.wanted_by < row.logged_on:
        raise DomainError(say("By when: that lies before the day it was asked for."))
    _who(reader, row)
    if row.order:
        _new(reader, row)
        rows = reader.orders.setdefault(row.order, [])
        if rows and rows[0].of_order != row.of_order:
            raise DomainError(
                say(
                    "Order {order}: its rows do not agree on customer, days, or how it is sold.",
                    order=row.order,
                )
            )
        said = {other.postage for other in (*rows, row) if other.postage}
        if len(said) > 1:
            raise DomainError(
                say("Order {order}: its rows do not agree on postage.", order=row.order)
            )
        if len(rows) >= MOST_LINES:
            raise DomainError(
                say(
                    "Order {order}: at most {most} lines have room in one.",
                    order=row.order,
                    most=MOST_LINES,
                )
            )
        rows.append(row)


def _new(reader: Reader, row: OrderRow) -> None:
    """Refuse an order that came in before; a table's numbers may begin anew for other people."""
    if len(row.order) > LONGEST_NUMBER:
        raise DomainError(say("Order: at most {most} characters.", most=LONGEST_NUMBER))
    before = reader.known.came_in.get((row.order, folded(row.customer), row.wanted_by))
    if before is not None:
        raise DomainError(
            say("Order {order} came in before, as order {number}.", order=row.order, number=before)
        )


def _who(reader: Reader, row: OrderRow) -> None:
    """Refuse a name that may be somebody else's: a name is no identity."""
    name = folded(row.customer)
    known = reader.known.customers.get(name, ())
    if len(known) > 1:
        raise DomainError(
            say(
                "There are several customers called “{customer}”: join them, or log this "
                "order by hand.",
                customer=row.customer,
            )
        )
    first = reader.reached.setdefault(name, known[0] if known else row.reach)
    if row.reach and folded(row.reach) != folded(first) and row.reach not in first.split():
        raise DomainError(_reached_elsewhere(row, first))


def _reached_elsewhere(row: OrderRow, known: str) -> str:
    if not known:
        return say(
            "“{customer}” is reached at no place on record, not at {reach}: if it is the same "
            "person, put that on their page first; if not, log this by hand.",
            customer=row.customer,
            reach=row.reach,
        )
    return say(
        "“{customer}” is reached at {known}, not at {reach}: if it is the same person, put that on "
        "their page first; if not, log this by hand.",
        customer=row.customer,
        known=known,
        reach=row.reach,
    )


def write_orders(session: Session, rows: Sequence[OrderRow]) -> None:
    """Log them as enquiries, each order with its lines in the order of the table."""
    channels = {channel.name: channel for channel in session.scalars(select(Channel))}
    named = {
        folded(who.name): who
        for who in session.scalars(select(Customer).where(Customer.erased_at.is_(None)))
    }
    variants = {
        variant.id: variant
        for variant in session.scalars(
            select(Variant).where(Variant.id.in_({row.variant for row in rows}))
        )
    }
    groups: dict[object, list[OrderRow]] = {}
    for number, row in enumerate(rows):
        groups.setdefault(row.order or number, []).append(row)
    for group in groups.values():
        first = group[0]
        order = log_order(
            session, customer_name=first.customer, channel=channels[first.channel],
            lines=[
                LineAsked(variants[r.variant], r.quantity, r.price, r.request) for r in group
            ],
            wanted_by=first.wanted_by, logged_on=first.logged_on, reach=first.reach,
            note="\n".join(dict.fromkeys(r.note for r in group if r.note)),
            known=named.get(folded(first.customer)),
            # Lists often repeat it in every row of an order: it is one postage all the same.
            postage=max(r.postage for r in group), their_number=first.order,
        )  # fmt: skip
        named[folded(first.customer)] = order.customer
