"""Customers: found by name without taking one for another, corrected, joined on purpose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session, selectinload

from app.core.errors import DomainError
from app.core.states import OrderState
from app.language import say, to_say
from app.models import Customer, Order, OrderLine
from app.services.shop.letterhead import country, short_enough
from app.services.shop.names import named
from app.services.shop.settings import check_version

SOMEBODY_ELSE = 0
"""Chosen where a name is known and another person of that name is meant."""
MOST_LISTED = 200
_OF_THE_JOINED = {
    "email": to_say("Email of the joined entry: {value}"),
    "phone": to_say("Phone of the joined entry: {value}"),
    "tax_number": to_say("Tax number of the joined entry: {value}"),
}


class SameNameError(DomainError):
    """There are customers of this name already, and nobody said which of them is meant."""

    def __init__(self, known: Sequence[Customer]) -> None:
        name = known[0].name
        super().__init__(
            say(
                "There is a customer called “{name}” already: say whether it is the same "
                "person, or somebody else of this name.",
                name=name,
            ),
            "who_is",
        )
        self.known = tuple(known)


def customers_named(session: Session, name: str) -> list[Customer]:
    """The customers of a name, however it is capitalised, the oldest first."""
    return named(session, Customer, name, Customer.erased_at.is_(None))


def customer_for(session: Session, name: str, reach: str = "", who: int | None = None) -> Customer:
    """The customer meant by a name: a new one, or the known one that was chosen (``who``).

    A name is no identity: where it is known and nobody said who is meant, it is asked, by
    :class:`SameNameError`. ``SOMEBODY_ELSE`` is another person of the name.
    """
    if not name.strip():
        raise DomainError(say("Who asks? A first name is enough."), "customer")
    known = customers_named(session, name)
    if known and who is None:
        raise SameNameError(known)
    if not known or who == SOMEBODY_ELSE:
        customer = Customer(name=name.strip())
        session.add(customer)
        _reached_at(customer, reach)
        session.flush()
        return customer
    chosen = next((c for c in known if c.id == who), None)
    if chosen is None:
        raise SameNameError(known)
    _reached_at(chosen, reach)
    return chosen


def _reached_at(customer: Customer, reach: str) -> None:
    """Note how somebody is reached; what is known already is never written over."""
    reach = reach.strip()
    if not reach or reach in (customer.email, customer.phone):
        return
    way = "email" if "@" in reach else "phone"
    if not getattr(customer, way):
        setattr(customer, way, reach)
    elif reach not in (customer.note or ""):
        also = say("Also reached at {address}", address=reach)
        customer.note = f"{customer.note or ''}\n{also}".strip()


def has_word(column: InstrumentedAttribute[str], word: str) -> ColumnElement[bool]:
    """Whether a column holds a word that was typed, whatever signs are in it."""
    escaped = word.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    return column.ilike(f"%{escaped}%", escape="\\")


@dataclass(frozen=True)
class Known:
    """A customer with the number of orders and the day of the last one."""

    customer: Customer
    orders: int
    last: date | None


def find_customers(
    session: Session, text: str = "", after: Customer | None = None, most: int = MOST_LISTED
) -> list[Known]:
    """Customers with all of these words in name, reach or address, by name, from one on."""
    by_name = (func.lower(Customer.name), Customer.id)
    query = select(Customer).where(Customer.erased_at.is_(None)).order_by(*by_name).limit(most)
    if after is not None:
        # The name as the database lowers it, which may know other letters than Python does.
        name = select(func.lower(Customer.name)).where(Customer.id == after.id).scalar_subquery()
        query = query.where(
            or_(by_name[0] > name, and_(by_name[0] == name, Customer.id > after.id))
        )
    for word in text.split()[:6]:
        columns = (Customer.name, Customer.email, Customer.phone, Customer.address)
        query = query.where(or_(*(has_word(c, word) for c in columns)))
    found = list(session.scalars(query))
    sums = {
        number: (int(n), last)
        for number, n, last in session.execute(
            select(Order.customer_id, func.count(Order.id), func.max(Order.logged_on))
            .where(Order.customer_id.in_([customer.id for customer in found]))
            .group_by(Order.customer_id)
        )
    }
    return [Known(customer, *sums.get(customer.id, (0, None))) for customer in found]


@dataclass(frozen=True)
class History:
    """All orders of a customer, the newest first, and what they came to."""

    orders: tuple[Order, ...]
    paid: Decimal
    owed: Decimal


def history_of(session: Session, customer: Customer) -> History:
    """What somebody ordered, paid and still owes."""
    orders = session.scalars(
        select(Order)
        .where(Order.customer_id == customer.id)
        .order_by(Order.number.desc())
        .options(
            selectinload(Order.payments), selectinload(Order.lines).joinedload(OrderLine.variant)
        )
    ).all()
    promised = [o for o in orders if o.state not in (OrderState.ENQUIRY, OrderState.DECLINED)]
    return History(
        tuple(orders),
        sum((order.paid for order in orders), Decimal(0)),
        sum((order.balance for order in promised), Decimal(0)),
    )


def save_customer(
    session: Session, customer: Customer, values: Mapping[str, Any], version: int | None
) -> None:
    """Correct a customer's name, reach, address and note."""
    check_version(customer, version)
    if not str(values["name"]).strip():
        raise DomainError(say("A name is needed."), "name")
    short_enough(str(values.get("address", "")), "address")
    for key, value in values.items():
        setattr(customer, key, value)
    customer.country = country(customer.country)
    customer.tax_number = customer.tax_number.replace(" ", "").upper()
    session.flush()


def join_customers(session: Session, kept: Customer, other: Customer) -> None:
    """Two entries are one person: all orders go to the one kept, and what is known of both.

    Where both have an address or a way to reach them that differs, the other's goes into the note.
    """
    if kept is other:
        raise DomainError(say("Choose another customer to join with this one."), "other")
    if kept.erased_at or other.erased_at:
        raise DomainError(say("A customer whose data was erased cannot be joined."), "other")
    notes = [kept.note, other.note]
    if not kept.address:
        # Where somebody lives is one: street and country are never of two entries.
        kept.address, kept.country = other.address, other.country or kept.country
    elif other.address and (other.address, other.country) != (kept.address, kept.country):
        lives = " ".join(filter(None, (other.address, other.country)))
        notes.append(say("Address of the joined entry: {address}", address=lives))
    for key, said in _OF_THE_JOINED.items():
        mine, theirs = getattr(kept, key), getattr(other, key)
        if not mine:
            setattr(kept, key, theirs)
        elif theirs and theirs != mine:
            notes.append(say(said, value=theirs))
    if other.name != kept.name:
        notes.append(say("Also entered as {name}", name=other.name))
    kept.note = "\n".join(note for note in notes if note)
    for order in list(other.orders):
        order.customer = kept
    session.flush()
    session.refresh(other, ["orders"])
    session.delete(other)
    session.flush()
