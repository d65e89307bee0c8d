"""Shops that sell for the maker on commission: what they have, what they sold, what they owe.

What is at a shop stays the maker's, at what it cost, until the shop says that it is sold.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.core.errors import DomainError
from app.core.invoicing import tax_within
from app.core.money import currency, to_minor
from app.core.states import MovementKind
from app.language import say
from app.models import (
    Design,
    Lot,
    Movement,
    Outlet,
    OutletPayment,
    Statement,
    StatementDraw,
    StatementLine,
    Variant,
)
from app.services.shop.settings import check_version, next_number, the_shop
from app.services.stock import aside
from app.services.stock import ledger as stock

MOST_TAKEN = Decimal(1)


def outlets(session: Session) -> list[Outlet]:
    """All of them by name, those no longer used last."""
    return list(session.scalars(select(Outlet).order_by(Outlet.retired, Outlet.name)))


def save_outlet(
    session: Session, outlet: Outlet | None, values: Mapping[str, Any], version: int | None = None
) -> Outlet:
    """Add a shop, or change one. One that has journals is in use."""
    if not 0 <= values["commission"] < MOST_TAKEN:
        raise DomainError(say("The commission is less than all of it."), "commission")
    name = values["name"].casefold()
    if any(one.name.casefold() == name and one is not outlet for one in outlets(session)):
        raise DomainError(say("There is a shop of that name already."), "name")
    if outlet is None:
        outlet = Outlet()
        session.add(outlet)
    else:
        check_version(outlet, version)
        if values.get("retired") and there(session, outlet):
            raise DomainError(
                say("It has journals of yours still: bring them home first."), "retired"
            )
    for key, value in values.items():
        setattr(outlet, key, value)
    session.flush()
    return outlet


@dataclass(frozen=True)
class There:
    """A journal at a shop: how many, what they cost, the price there."""

    variant: Variant
    pieces: int
    cost: Decimal
    price: Decimal | None


def there(session: Session, outlet: Outlet) -> list[There]:
    """What a shop has of the maker's, by name."""
    return there_at(session, [outlet])[outlet.id]


def there_at(session: Session, some: Sequence[Outlet]) -> dict[int, list[There]]:
    """What each of some shops has of the maker's, by name."""
    every = {outlet.id: outlet for outlet in some}
    rows = session.execute(
        select(Lot.outlet_id, Lot.variant_id, func.sum(Lot.left_quantity), func.sum(Lot.left_cost))
        .where(Lot.outlet_id.in_(every), Lot.left_quantity > 0)
        .group_by(Lot.outlet_id, Lot.variant_id)
    ).all()
    query = select(Variant).options(
        joinedload(Variant.design).joinedload(Design.journal), selectinload(Variant.prices)
    )
    variants = {v.id: v for v in session.scalars(query.where(Variant.id.in_({r[1] for r in rows})))}
    found: dict[int, list[There]] = {number: [] for number in every}
    for at, number, pieces, cost in rows:
        if at is not None and number is not None:
            price = variants[number].asked_in(every[at].channel_id)
            found[at].append(There(variants[number], int(pieces), cost, price))
    return {at: sorted(one, key=lambda row: row.variant.full_name) for at, one in found.items()}


def send(session: Session, outlet: Outlet, quantities: Mapping[int, int], on: date) -> int:
    """Take journals off the shelf to a shop; how many. Refused where there are too few."""
    if outlet.retired:
        raise DomainError(say("This shop is no longer used."))
    wanted = _said(quantities)
    note = say("To {shop}", shop=outlet.name)
    for number, quantity in wanted.items():
        variant = session.get(Variant, number)
        if variant is None:
            raise DomainError(say("That journal is gone."), f"send-{number}")
        here = stock.on_hand(session, variant)
        if quantity > here:
            raise DomainError(say("{number} are on the shelf.", number=here), f"send-{number}")
        own = aside.set_aside(session, variant, quantity, on, outlet_id=outlet.id, note=note)
        if any(session.get_one(Lot, lot.parent_id or 0).came_on > on for lot in own):
            raise DomainError(
                say("There were not so many on the shelf on that day."), f"send-{number}"
            )
    return sum(wanted.values())


def _said(quantities: Mapping[int, int]) -> dict[int, int]:
    wanted = {number: n for number, n in quantities.items() if n}
    if not wanted:
        raise DomainError(say("Say how many of what."))
    if min(wanted.values()) < 0:
        raise DomainError(say("Fewer than none cannot be."))
    return wanted


def _lots(session: Session, outlet: Outlet, variant_id: int) -> list[Lot]:
    """What a shop has of one journal, the oldest first."""
    query = select(Lot).where(
        Lot.outlet_id == outlet.id, Lot.variant_id == variant_id, Lot.left_quantity > 0
    )
    return list(session.scalars(query.order_by(Lot.came_on, Lot.id).with_for_update()))


def _shared(
    session: Session, outlet: Outlet, variant_id: int, quantity: int, field: str, on: date
) -> list[tuple[Lot, int]]:
    """From which lots so many come; refused where the shop had fewer on that day."""
    found, left = [], quantity
    for lot in _lots(session, outlet, variant_id):
        if lot.came_on > on:
            continue
        number = min(stock.left_of(session, lot)[0], left)
        if number:
            found.append((lot, number))
            left -= number
    if left:
        raise DomainError(
            say("{number} were there on that day by your books.", number=quantity - left),
            f"{field}-{variant_id}",
        )
    return found


def bring_home(session: Session, outlet: Outlet, quantities: Mapping[int, int], on: date) -> int:
    """What a shop gives back is on the shelf again; how many."""
    wanted = _said(quantities)
    for number, quantity in wanted.items():
        for lot, some in _shared(session, outlet, number, quantity, "home", on):
            aside.put_back(session, lot, some, on, say("Home from {shop}", shop=outlet.name))
    return sum(wanted.values())


@dataclass(frozen=True)
class SoldThere:
    """So many of a variant that a shop says it sold, and the price of one."""

    variant_id: int
    quantity: int
    price: Decimal


def state_sold(
    session: Session, outlet: Outlet, lines: Sequence[SoldThere], on: date,
    costs: Decimal = Decimal(0), commission: Decimal | None = None,
) -> Statement:  # fmt: skip
    """Write down what a shop says it sold: it has left the stock, and the shop owes for it."""
    wanted = [line for line in lines if line.quantity]
    if not wanted:
        raise DomainError(say("Say how many of what were sold."))
    share = outlet.commission if commission is None else commission
    if not 0 <= share < MOST_TAKEN:
        raise DomainError(say("The commission is less than all of it."), "commission")
    found = Statement(
        number=next_number(session, "statement"), outlet_id=outlet.id, stated_on=on,
        commission=share, costs=costs, tax_rate=the_shop(session).tax,
    )  # fmt: skip
    session.add(found)
    session.flush()
    for one in wanted:
        line = StatementLine(variant_id=one.variant_id, quantity=one.quantity, unit_price=one.price)
        found.lines.append(line)
        session.flush()
        note = say("{shop}, statement {number}", shop=outlet.name, number=found.number)
        for lot, some in _shared(session, outlet, one.variant_id, one.quantity, "sold", on):
            gone = stock.take_from(session, lot, some, MovementKind.SOLD, on=on, note=note)
            session.add(StatementDraw(statement_line_id=line.id, movement_id=gone.id))
    session.flush()
    if account_of(session, [found])[found.id].owed < 0:
        raise DomainError(say("Commission and costs are more than was sold."), "costs")
    return found


def take_back(session: Session, statement: Statement) -> None:
    """A statement was a mistake: what it says was sold is at the shop again."""
    if statement.undone_at is not None:
        raise DomainError(say("This statement was taken back already."))
    draws = (
        select(Movement)
        .join(StatementDraw, StatementDraw.movement_id == Movement.id)
        .join(StatementLine, StatementLine.id == StatementDraw.statement_line_id)
        .where(StatementLine.statement_id == statement.id)
    )
    note = say("Statement {number} taken back", number=statement.number)
    for movement in list(session.scalars(draws)):
        stock.reverse(session, movement, note, together=True)
    statement.undone_at = datetime.now(UTC)
    session.flush()


@dataclass(frozen=True)
class Account:
    """What a statement comes to: sold for, tax in it, commission, other costs, owed."""

    sold: Decimal
    tax: Decimal
    commission: Decimal
    costs: Decimal

    @property
    def owed(self) -> Decimal:
        """What the shop owes of it."""
        return self.sold - self.commission - self.costs


def account_of(session: Session, statements: Iterable[Statement]) -> dict[int, Account]:
    """What some statements come to, by their ids."""
    money = currency(the_shop(session).currency)
    return {
        one.id: Account(
            one.total, tax_within(one.total, one.tax_rate, money),
            to_minor(one.total * one.commission, money), one.costs,
        )
        for one in statements
    }  # fmt: skip


def statements(session: Session, outlet: Outlet) -> list[Statement]:
    """What a shop said it sold, the newest first, those taken back among them."""
    query = (
        select(Statement)
        .where(Statement.outlet_id == outlet.id)
        .order_by(Statement.number.desc())
        .options(
            selectinload(Statement.lines)
            .joinedload(StatementLine.variant)
            .joinedload(Variant.design)
            .joinedload(Design.journal)
        )
    )
    return list(session.scalars(query))


def payments(session: Session, outlet: Outlet) -> list[OutletPayment]:
    """What a shop paid, the newest first."""
    query = select(OutletPayment).where(OutletPayment.outlet_id == outlet.id)
    return list(session.scalars(query.order_by(OutletPayment.id.desc())))


def owes(session: Session, outlet: Outlet) -> Decimal:
    """What a shop owes: of its statements what it has not paid."""
    return owed_by(session, [outlet])[outlet.id]


def owed_by(session: Session, some: Sequence[Outlet]) -> dict[int, Decimal]:
    """What each of some shops owes."""
    owed = {outlet.id: Decimal(0) for outlet in some}
    standing = list(
        session.scalars(
            select(Statement)
            .where(Statement.outlet_id.in_(owed), Statement.undone_at.is_(None))
            .options(selectinload(Statement.lines))
        )
    )
    came_to = account_of(session, standing)
    for one in standing:
        owed[one.outlet_id] += came_to[one.id].owed
    paid = session.execute(
        select(OutletPayment.outlet_id, func.sum(OutletPayment.amount))
        .where(OutletPayment.outlet_id.in_(owed))
        .group_by(OutletPayment.outlet_id)
    )
    for number, amount in paid:
        owed[number] -= amount
    return owed


def settle(session: Session, outlet: Outlet, amount: Decimal, on: date, how: str) -> OutletPayment:
    """Write down what a shop paid."""
    if amount <= 0:
        raise DomainError(say("A payment is more than nothing."), "amount")
    found = OutletPayment(outlet_id=outlet.id, amount=amount, paid_on=on, how=how)
    session.add(found)
    session.flush()
    return found


def answer(session: Session, payment: OutletPayment, on: date) -> OutletPayment:
    """A payment was a mistake: its opposite answers it, once."""
    if payment.reverses_id is not None:
        raise DomainError(say("This answers another payment already."))
    if session.scalar(select(OutletPayment.id).where(OutletPayment.reverses_id == payment.id)):
        raise DomainError(say("This payment was answered already."))
    found = OutletPayment(
        outlet_id=payment.outlet_id, amount=-payment.amount, paid_on=on, how=payment.how,
        reverses_id=payment.id,
    )  # fmt: skip
    session.add(found)
    session.flush()
    return found
