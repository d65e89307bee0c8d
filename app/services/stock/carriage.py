"""What it cost to get things here, by where they came from: the carriage of their last receipt."""

from __future__ import annotations

from fractions import Fraction

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from app.core.states import MovementKind
from app.models import Lot, Movement, Purchase, PurchaseLine, Receipt, ReceiptLine
from app.services.stock.ledger import still_stands

Place = tuple[int, int | None, int | None]
"""A supplier with the sheet or the material that comes from there."""


def last_carriage(session: Session) -> dict[Place, Fraction]:
    """Carriage of one base unit in the last receipt that stands, by place."""
    kept = exists().where(
        Movement.lot_id == Lot.id, Movement.kind == MovementKind.RECEIVED, still_stands()
    )
    rows = session.execute(
        select(
            Purchase.supplier_id, PurchaseLine.stock_sheet_id, PurchaseLine.material_id,
            ReceiptLine.packs, PurchaseLine.pack_quantity, PurchaseLine.pack_price, Lot.cost,
        )
        .join(ReceiptLine.receipt)
        .join(ReceiptLine.line)
        .join(PurchaseLine.purchase)
        .join(ReceiptLine.lot)
        .where(kept)
        .order_by(Receipt.came_on, Receipt.id)
    )  # fmt: skip
    last = {(row.supplier_id, row.stock_sheet_id, row.material_id): row for row in rows}
    return {
        place: Fraction(row.cost - row.packs * row.pack_price) / (row.packs * row.pack_quantity)
        for place, row in last.items()
    }
