"""What it costs to get a thing here: as its offer says, else as the last receipt from there did."""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from app.models import (
    Lot,
    Movement,
    Offer,
    Purchase,
    PurchaseLine,
    Receipt,
    ReceiptLine,
)
from app.services.stock.ledger import still_stands


def carriage_each(session: Session, offers: Collection[Offer]) -> dict[int, Fraction]:
    """Carriage of one base unit by offer id; offers of which nothing is known are left out."""
    found = {
        offer.id: Fraction(offer.carriage) / offer.pack_quantity
        for offer in offers
        if offer.carriage is not None
    }
    unsaid = [offer for offer in offers if offer.carriage is None]
    if not unsaid:
        return found
    last = _last_receipts(session, unsaid)
    for offer in unsaid:
        each = last.get((offer.supplier_id, offer.stock_sheet_id, offer.material_id))
        if each is not None:
            found[offer.id] = each
    return found


def _last_receipts(
    session: Session, offers: Collection[Offer]
) -> dict[tuple[int, int | None, int | None], Fraction]:
    """Carriage of one base unit in the last receipt, by supplier, sheet and material."""
    sheets = [offer.stock_sheet_id for offer in offers if offer.stock_sheet_id]
    goods = [offer.material_id for offer in offers if offer.material_id]
    kept = select(Movement.lot_id).where(Movement.kind == "received", still_stands())
    rows = session.execute(
        select(
            Purchase.supplier_id, PurchaseLine.stock_sheet_id, PurchaseLine.material_id,
            ReceiptLine.packs, PurchaseLine.pack_quantity, PurchaseLine.pack_price, Lot.cost,
        )
        .join(ReceiptLine.receipt)
        .join(ReceiptLine.line)
        .join(PurchaseLine.purchase)
        .join(ReceiptLine.lot)
        .where(
            or_(PurchaseLine.stock_sheet_id.in_(sheets), PurchaseLine.material_id.in_(goods)),
            Lot.id.in_(kept),
        )
        .order_by(Receipt.came_on, Receipt.id)
    )  # fmt: skip
    return {
        (supplier, sheet, material): Fraction(cost - packs * price) / (packs * quantity)
        for supplier, sheet, material, packs, quantity, price, cost in rows
    }
