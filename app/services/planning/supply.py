"""What was ordered and has not come, apart from what is only drafted: supply in its states."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.core.states import PURCHASE_ON_ITS_WAY, BatchState, MovementKind, PurchaseState
from app.language import say
from app.models import (
    Batch,
    GoodsLine,
    Material,
    Movement,
    Purchase,
    PurchaseLine,
    ReceiptLine,
    StockSheet,
)
from app.services.stock.ledger import item_key, still_stands
from app.services.stock.materials import offers_in_force

MOST_LISTED = 50
"""Purchases on one page."""


def purchases(
    session: Session, *, states: Collection[str] = (), before: int | None = None,
    most: int | None = None,
) -> list[Purchase]:  # fmt: skip
    """Purchases, of some states or of all, the newest first; those before a number, so many."""
    query = (
        select(Purchase)
        .order_by(Purchase.number.desc())
        .options(
            selectinload(Purchase.lines).options(
                joinedload(PurchaseLine.stock_sheet).joinedload(StockSheet.paper),
                joinedload(PurchaseLine.material),
            ),
            joinedload(Purchase.supplier),
        )
    )
    if states:
        query = query.where(Purchase.state.in_(states))
    if before is not None:
        query = query.where(Purchase.number < before)
    if most is not None:
        query = query.limit(most)
    return list(session.scalars(query))


def item_of(line: PurchaseLine) -> StockSheet | Material:
    """The thing a line is for."""
    item = line.stock_sheet or line.material
    if item is None:
        raise AssertionError("a line is for a sheet or a material")
    return item


def came(session: Session, lines: Collection[PurchaseLine]) -> dict[int, int]:
    """Packs of each line that came and were not undone since, by line."""
    found = _packs_that_came(session, [line.id for line in lines])
    return {line.id: found.get(line.id, 0) for line in lines}


def came_in_all(session: Session) -> dict[int, int]:
    """The same of every line of which something came."""
    return _packs_that_came(session, None)


def _packs_that_came(session: Session, numbers: Collection[int] | None) -> dict[int, int]:
    stands = exists().where(
        Movement.lot_id == ReceiptLine.lot_id,
        Movement.kind == MovementKind.RECEIVED,
        still_stands(),
    )
    query = (
        select(ReceiptLine.purchase_line_id, func.sum(ReceiptLine.packs))
        .where(stands)
        .group_by(ReceiptLine.purchase_line_id)
    )
    if numbers is not None:
        query = query.where(ReceiptLine.purchase_line_id.in_(numbers))
    return {line: int(packs) for line, packs in session.execute(query)}


def lead_of(line: PurchaseLine, on: date) -> int:
    """Days that a line's supplier takes by the offer of the day."""
    days = [
        offer.lead_days
        for offer in offers_in_force(item_of(line).offers, on)
        if offer.supplier_id == line.purchase.supplier_id
    ]
    return max(days, default=0)


@dataclass(frozen=True)
class Coming:
    """An amount of a thing on its way, drafted, or in the making, and the day it is expected.

    ``drafted`` ones are not sent yet: their day is that of a purchase sent today. What is made here
    comes of a batch and of no purchase.
    """

    purchase: Purchase | None
    item: StockSheet | Material
    quantity: int
    cost: Decimal
    expected_on: date
    packs: int
    lead_days: int
    batch: Batch | None = None

    @property
    def said(self) -> str:
        """What it comes of, in a sentence."""
        if self.purchase is not None:
            return say("purchase {number}", number=self.purchase.number)
        if self.batch is not None:
            return say("batch {number}", number=self.batch.number)
        return say("somewhere")

    @property
    def link(self) -> str:
        """The page of what it comes of."""
        if self.purchase is not None:
            return f"purchase-{self.purchase.id}"
        return f"batch-{self.batch.id}" if self.batch is not None else ""

    @property
    def drafted(self) -> bool:
        """Whether it still has to be sent."""
        return self.purchase is not None and self.purchase.state == PurchaseState.DRAFT


@dataclass(frozen=True)
class Supply:
    """What there is of a thing, in its three states, in base units."""

    in_stock: int
    on_its_way: int
    drafted: int

    @property
    def in_all(self) -> int:
        """All three together: what need not be bought again."""
        return self.in_stock + self.on_its_way + self.drafted

    @property
    def sure(self) -> int:
        """What is here or was ordered."""
        return self.in_stock + self.on_its_way


def supply_of(in_stock: int, coming: Collection[Coming]) -> Supply:
    """What is here and what comes of one thing."""
    return Supply(
        in_stock,
        sum(c.quantity for c in coming if not c.drafted),
        sum(c.quantity for c in coming if c.drafted),
    )


def on_the_way(session: Session, on: date) -> dict[str, list[Coming]]:
    """What was ordered or drafted and has not come, by item key: what was sent first, by its day.

    A draft is expected as if it were sent today.
    """
    found: dict[str, list[Coming]] = {}
    sent = purchases(session, states=(PurchaseState.DRAFT, *PURCHASE_ON_ITS_WAY))
    here = came(session, [line for purchase in sent for line in purchase.lines])
    for purchase in sent:
        for line in purchase.lines:
            lead = lead_of(line, on)
            due = max(purchase.expected_on or on + timedelta(days=lead), on)
            missing = line.packs - here[line.id]
            if missing > 0:
                item = item_of(line)
                quantity, cost = missing * line.pack_quantity, missing * line.pack_price
                coming = Coming(purchase, item, quantity, cost, due, missing, lead)
                found.setdefault(item_key(item), []).append(coming)
    for coming in _in_the_making(session, on):
        found.setdefault(item_key(coming.item), []).append(coming)
    for rows in found.values():
        rows.sort(key=lambda c: (c.drafted, c.expected_on, c.said))
    return found


def _in_the_making(session: Session, on: date) -> list[Coming]:
    """What batches of goods should give, as many days after they were begun as it takes."""
    query = (
        select(GoodsLine)
        .join(GoodsLine.batch)
        .where(Batch.state == BatchState.IN_PROGRESS)
        .options(
            joinedload(GoodsLine.batch), joinedload(GoodsLine.material),
            joinedload(GoodsLine.stock_sheet).joinedload(StockSheet.paper),
        )
    )  # fmt: skip
    lines = list(session.scalars(query))
    rows = session.execute(
        select(Movement.batch_id, func.sum(Movement.cost), func.min(Movement.at))
        .where(
            Movement.batch_id.in_([line.batch_id for line in lines]),
            still_stands(),
            Movement.kind.in_((MovementKind.ISSUED, MovementKind.CUT)),
        )
        .group_by(Movement.batch_id)
    )
    issued = {batch: (-cost, at.astimezone().date()) for batch, cost, at in rows}
    found = []
    for line in lines:
        cost, begun = issued.get(line.batch_id, (Decimal(0), on))
        due = max(begun + timedelta(days=line.days), on)
        found.append(
            Coming(None, line.item, line.expected, cost, due, line.expected, 0, line.batch)
        )
    return found
