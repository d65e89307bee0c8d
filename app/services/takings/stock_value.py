"""What the stock was worth on any day: what is here now, less all that has happened since."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Any

from sqlalchemy import ColumnElement, Select, case, func, select
from sqlalchemy.orm import Session

from app.core.states import BatchState, MovementKind
from app.models import Batch, Lot, Movement
from app.models.stock import OPEN
from app.services.markets.closing import work_in
from app.services.takings.periods import begin_of


class Shelf(StrEnum):
    """Where in the stock something lies."""

    SHEETS = "papers"
    OFFCUTS = "offcuts"
    MATERIALS = "materials"
    JOURNALS = "journals on the shelf"
    ASIDE = "journals set aside for orders"
    SHOPS = "journals at shops"
    MAKING = "in the making"


def shelf_of() -> ColumnElement[Any]:
    """Of lots: where they lie."""
    return case(
        (Lot.offcut_width_nm.is_not(None), Shelf.OFFCUTS.value),
        (Lot.stock_sheet_id.is_not(None), Shelf.SHEETS.value),
        (Lot.material_id.is_not(None), Shelf.MATERIALS.value),
        (Lot.order_line_id.is_not(None), Shelf.ASIDE.value),
        (Lot.outlet_id.is_not(None), Shelf.SHOPS.value),
        else_=Shelf.JOURNALS.value,
    )


@dataclass(frozen=True)
class StockValue:
    """What the stock was worth at the end of a day, exactly, and how much of it is work."""

    on: date
    by_shelf: Mapping[Shelf, Decimal]
    own_work: Decimal
    """Of the journals: the maker's hours and overhead in what they cost."""

    @property
    def total(self) -> Decimal:
        """All of it."""
        return sum(self.by_shelf.values(), Decimal(0))


def stock_value(session: Session, on: date) -> StockValue:
    """What the stock was worth at the end of a day."""
    after = begin_of(on + timedelta(days=1))
    values: dict[tuple[str, int | None], Decimal] = {}
    now = session.execute(
        select(shelf_of().label("shelf"), Lot.batch_id, func.sum(Lot.left_cost))
        .where(OPEN)
        .group_by("shelf", Lot.batch_id)
    )
    since = session.execute(
        select(shelf_of().label("shelf"), Lot.batch_id, func.sum(-Movement.cost))
        .join(Movement, Movement.lot_id == Lot.id)
        .where(Movement.at >= after)
        .group_by("shelf", Lot.batch_id)
    )
    for rows in (now, since):
        for shelf, batch, cost in rows:
            values[shelf, batch] = values.get((shelf, batch), Decimal(0)) + cost
    by_shelf = dict.fromkeys(Shelf, Decimal(0))
    for (shelf, _), cost in values.items():
        by_shelf[Shelf(shelf)] += cost
    by_shelf[Shelf.MAKING] = in_the_making(session, on)
    journals = {
        batch: cost for (shelf, batch), cost in values.items()
        if batch is not None and shelf in (Shelf.JOURNALS, Shelf.ASIDE, Shelf.SHOPS)
    }  # fmt: skip
    shares = work_in(session, set(journals))
    work = sum((Fraction(cost) * shares[b][0] for b, cost in journals.items()), Fraction(0))
    return StockValue(on, by_shelf, Decimal(work.numerator) / Decimal(work.denominator))


@dataclass(frozen=True)
class Lying:
    """How much of a thing lay in the stock at the end of a day, and what it had cost."""

    key: str
    quantity: int
    cost: Decimal


def lying(session: Session, on: date, shelf: Shelf) -> list[Lying]:
    """The things that a shelf held at the end of a day, what was worth most first; of a batch in
    the making what lay in it."""
    after = begin_of(on + timedelta(days=1))
    if shelf == Shelf.MAKING:
        rows = session.execute(
            select(Movement.batch_id, func.sum(-Movement.cost))
            .where(Movement.batch_id.in_(_begun(after)), Movement.at < after)
            .group_by(Movement.batch_id)
        )
        return [Lying(f"batch-{batch}", 1, cost) for batch, cost in rows if cost]
    columns = (Lot.stock_sheet_id, Lot.material_id, Lot.variant_id)
    now = select(*columns, func.sum(Lot.left_quantity), func.sum(Lot.left_cost)).where(
        OPEN, shelf_of() == shelf.value
    )
    since = (
        select(*columns, func.sum(-Movement.quantity), func.sum(-Movement.cost))
        .join(Movement, Movement.lot_id == Lot.id)
        .where(Movement.at >= after, shelf_of() == shelf.value)
    )
    sums: dict[str, tuple[int, Decimal]] = {}
    for query in (now, since):
        for sheet, material, variant, quantity, cost in session.execute(query.group_by(*columns)):
            key = (
                f"sheet-{sheet}" if sheet else f"material-{material}" if material
                else f"variant-{variant}"
            )  # fmt: skip
            before = sums.get(key, (0, Decimal(0)))
            sums[key] = before[0] + int(quantity or 0), before[1] + (cost or Decimal(0))
    found = [Lying(key, n, cost) for key, (n, cost) in sums.items() if n or cost]
    return sorted(found, key=lambda row: (-row.cost, row.key))


def in_the_making(session: Session, on: date) -> Decimal:
    """What lay in batches that were begun and of which nothing had come out by the end of a day."""
    after = begin_of(on + timedelta(days=1))
    cost = session.scalar(
        select(func.sum(-Movement.cost)).where(
            Movement.batch_id.in_(_begun(after)), Movement.at < after
        )
    )
    return cost or Decimal(0)


def _begun(after: datetime) -> Select[Any]:
    """Batches of which nothing had come out before a moment, by their ids."""
    came_out = (
        select(Movement.batch_id)
        .where(Movement.kind == MovementKind.MADE, Movement.batch_id.is_not(None))
        .group_by(Movement.batch_id)
    )
    before = came_out.having(func.min(Movement.at) < after)
    later = came_out.having(func.min(Movement.at) >= after)
    return select(Batch.id).where(
        (Batch.state != BatchState.MADE) | Batch.id.in_(later), Batch.id.not_in(before)
    )
