"""What the stock was worth on any day: what is here now, less all that has happened since."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Any

from sqlalchemy import ColumnElement, and_, case, func, select
from sqlalchemy.orm import Session

from app.core.money import half_up
from app.core.states import BatchState, MovementKind
from app.memory import remembered
from app.models import Batch, Lot, Movement
from app.models.stock import OPEN
from app.services.markets.closing import work_in
from app.services.stock.ledger import STEP, key_of
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


@remembered
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


@remembered
def lying(session: Session, on: date, shelf: Shelf) -> list[Lying]:
    """The things that a shelf held at the end of a day, what was worth most first; of a batch in
    the making what lay in it."""
    after = begin_of(on + timedelta(days=1))
    if shelf == Shelf.MAKING:
        rows = _in_batches(session, after)
        return [Lying(f"batch-{number}", 1, cost) for number, cost in sorted(rows.items())]
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
            key = key_of(sheet, material, variant)
            before = sums.get(key, (0, Decimal(0)))
            sums[key] = before[0] + int(quantity or 0), before[1] + (cost or Decimal(0))
    found = [Lying(key, n, cost) for key, (n, cost) in sums.items() if n or cost]
    return sorted(found, key=lambda row: (-row.cost, row.key))


@remembered
def in_the_making(session: Session, on: date) -> Decimal:
    """What of the materials that went into batches had not come out of them by the end of a day."""
    return sum(_in_batches(session, begin_of(on + timedelta(days=1))).values(), Decimal(0))


def _in_batches(session: Session, after: datetime) -> dict[int, Decimal]:
    """Materials in batches at a moment, by the batch: what went in, less their share of what had
    come out by then. Of one that is finished all of them came out, of others as their books say."""
    made_later = select(Movement.batch_id).where(
        Movement.kind == MovementKind.MADE, Movement.at >= after, Movement.batch_id.is_not(None)
    )
    open_then = (Batch.state != BatchState.MADE) | Batch.id.in_(made_later)
    out = Movement.kind == MovementKind.MADE
    then = Movement.at < after

    def total(*which: ColumnElement[bool]) -> ColumnElement[Any]:
        return func.sum(case((and_(*which), Movement.cost), else_=0))

    rows = session.execute(
        select(Batch, total(~out, then), total(out, then), total(~out), total(out))
        .join(Movement, Movement.batch_id == Batch.id)
        .where(open_then)
        .group_by(Batch.id)
    )
    found = {}
    for batch, went_in, came_out, in_all, out_all in rows:
        left = -went_in - _materials_out(batch, came_out, -in_all, out_all)
        if left:
            found[batch.id] = left
    return found


def _materials_out(batch: Batch, came_out: Decimal, went_in: Decimal, out_all: Decimal) -> Decimal:
    """Of the materials of a batch those in what had come out, by its share of all that has."""
    if not out_all or not came_out:
        return Decimal(0)
    gone = went_in
    if batch.state != BatchState.MADE:
        gone = out_all + (batch.spoiled_cost or Decimal(0)) - (batch.work_cost or Decimal(0))
    return half_up(Fraction(gone) * Fraction(came_out) / Fraction(out_all), STEP)
