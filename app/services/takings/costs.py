"""Costs that belong to no journal: written down, spread over months, struck out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.money import currency
from app.core.states import CostKind
from app.core.takings import spread
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
        raise DomainError("A cost is more than nothing.", "amount")
    if not 1 <= values["months"] <= 120:
        raise DomainError("Spread it over 1 to 120 months.", "months")
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
    """What of a cost falls on the months of a period; it falls on a month as a whole."""
    begins = month_number(cost.day)
    first, last = month_number(period.first) - begins, month_number(period.last) - begins
    return spread(cost.amount, cost.months, first, last, step)


def costs_in(session: Session, period: Period) -> list[tuple[OtherCost, Decimal]]:
    """Each cost that falls on a period, with how much of it does."""
    step = currency(the_shop(session).currency).step
    query = (
        select(OtherCost)
        .where(OtherCost.struck_at.is_(None), OtherCost.day <= period.last)
        .order_by(OtherCost.day, OtherCost.id)
    )
    found = ((cost, falls_on(cost, period, step)) for cost in session.scalars(query))
    return [(cost, amount) for cost, amount in found if amount]


def by_kind(costs: list[tuple[OtherCost, Decimal]]) -> dict[CostKind, Decimal]:
    """What falls on a period, by what it is for."""
    found: dict[CostKind, Decimal] = {}
    for cost, amount in costs:
        found[cost.kind] = found.get(cost.kind, Decimal(0)) + amount
    return found
