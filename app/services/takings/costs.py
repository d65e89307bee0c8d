"""Costs that belong to no journal: written down, spread over months, struck out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.money import currency
from app.core.states import CostKind
from app.core.takings import spread
from app.language import say
from app.models import OtherCost
from app.services.shop.settings import check_version, the_shop
from app.services.takings.periods import Period, month_number


def other_costs(session: Session) -> list[OtherCost]:
    """All of them, the newest first, those struck out among them."""
    return list(
        session.scalars(select(OtherCost).order_by(OtherCost.day.desc(), OtherCost.id.desc()))
    )


def save_cost(
    session: Session, cost: OtherCost | None, values: Mapping[str, Any], version: int | None = None
) -> OtherCost:
    """Write a cost down, or change it."""
    if values["amount"] <= 0:
        raise DomainError(say("A cost is more than nothing."), "amount")
    if not 1 <= values["months"] <= 120:
        raise DomainError(say("Spread it over 1 to 120 months."), "months")
    if cost is None:
        cost = OtherCost()
        session.add(cost)
    else:
        check_version(cost, version)
    for key, value in values.items():
        setattr(cost, key, value)
    session.flush()
    return cost


def strike(session: Session, cost: OtherCost, *, out: bool = True) -> None:
    """Strike a cost out that was a mistake, or let it count again."""
    cost.struck_at = datetime.now(UTC) if out else None
    session.flush()


def falls_on(cost: OtherCost, period: Period, step: Decimal) -> Decimal:
    """What of a cost falls on a period.

    Its first month's share falls on its own day, that of each later month on the first of it.
    """
    first, last = _shares(cost, period.first), _shares(cost, period.last, 1) - 1
    return spread(cost.amount, cost.months, first, last, step)


def _shares(cost: OtherCost, day: date, after: int = 0) -> int:
    """How many shares of a cost had fallen before a day; by its end where ``after`` is one."""
    if day < cost.day or (day == cost.day and not after):
        return 0
    begun = month_number(day) - month_number(cost.day)
    return begun + 1 if begun == 0 or day.day > 1 or after else begun


def ahead_of(cost: OtherCost, period: Period, step: Decimal) -> Decimal:
    """What of a cost was paid before a period and falls on it or later."""
    if cost.day >= period.first:
        return step * 0
    return cost.amount - spread(cost.amount, cost.months, 0, _shares(cost, period.first) - 1, step)


def costs_paid(session: Session, period: Period) -> list[OtherCost]:
    """Every cost that was paid by the end of a period and counts."""
    query = (
        select(OtherCost)
        .where(OtherCost.struck_at.is_(None), OtherCost.day <= period.last)
        .order_by(OtherCost.day, OtherCost.id)
    )
    return list(session.scalars(query))


def costs_in(session: Session, period: Period) -> list[tuple[OtherCost, Decimal]]:
    """Each cost that falls on a period, with how much of it does."""
    step = currency(the_shop(session).currency).step
    found = ((cost, falls_on(cost, period, step)) for cost in costs_paid(session, period))
    return [(cost, amount) for cost, amount in found if amount]


def by_kind(costs: list[tuple[OtherCost, Decimal]]) -> dict[CostKind, Decimal]:
    """What falls on a period, by what it is for."""
    found: dict[CostKind, Decimal] = {}
    for cost, amount in costs:
        found[cost.kind] = found.get(cost.kind, Decimal(0)) + amount
    return found
