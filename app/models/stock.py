"""Lots and the movements that change them; on hand is always the sum of movements."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.states import MovementKind
from app.db import Base, Length, Moment, Money, Quantity
from app.models.columns import Key, Note, OneOf, exactly_one, refers_to
from app.models.designs import Variant
from app.models.materials import Material, StockSheet

KINDS = tuple(kind.value for kind in MovementKind)


AT_MARKET = text("market_id IS NOT NULL")
OPEN = text("(left_quantity <> 0 OR left_cost <> 0)")
"""Of lots: something is left of them, or of what they cost."""


class Lot(Base):
    """What came in at one time at one cost: sheets, an offcut, a material, finished journals."""

    __tablename__ = "lot"
    __table_args__ = (
        exactly_one("stock_sheet_id", "material_id", "variant_id"),
        Index(
            "ix_lot_open", "stock_sheet_id", "material_id", "variant_id",
            sqlite_where=OPEN, postgresql_where=OPEN,
        ),
    )  # fmt: skip

    id: Mapped[Key]
    stock_sheet_id: Mapped[int | None] = refers_to("stock_sheet", needed=False)
    material_id: Mapped[int | None] = refers_to("material", needed=False)
    variant_id: Mapped[int | None] = refers_to("variant", needed=False)
    parent_id: Mapped[int | None] = refers_to("lot", needed=False)
    batch_id: Mapped[int | None] = refers_to("batch", needed=False)
    """Of finished journals: the batch they came out of, wherever they went since."""
    order_line_id: Mapped[int | None] = refers_to("order_line", needed=False)
    """Of finished journals: whom they are set aside for; they are on the shelf no more."""
    outlet_id: Mapped[int | None] = refers_to("outlet", needed=False)
    """Of finished journals: the shop that has them, to sell on commission."""
    offcut_width_nm: Mapped[int | None] = mapped_column(Length)
    offcut_height_nm: Mapped[int | None] = mapped_column(Length)
    came_on: Mapped[date]
    cost: Mapped[Decimal] = mapped_column(Money())
    note: Mapped[Note]
    left_quantity: Mapped[int] = mapped_column(Quantity, server_default="0", deferred=True)
    left_cost: Mapped[Decimal] = mapped_column(Money(), server_default="0", deferred=True)
    """What its movements add up to: a trigger keeps both, nobody else writes them."""
    stock_sheet: Mapped[StockSheet | None] = relationship()
    material: Mapped[Material | None] = relationship()
    variant: Mapped[Variant | None] = relationship()
    parent: Mapped[Lot | None] = relationship(remote_side="Lot.id")
    movements: Mapped[list[Movement]] = relationship(back_populates="lot", order_by="Movement.id")


class Movement(Base):
    """One change of one lot, added and never altered: the database refuses it.

    ``quantity`` and ``cost`` carry a sign. A reversal names the movement it undoes, once.
    """

    __tablename__ = "movement"
    __table_args__ = (
        CheckConstraint("quantity <> 0", name="quantity"),
        CheckConstraint(f"kind IN {KINDS}", name="kind"),
        UniqueConstraint("reverses_id"),
        Index("ix_movement_by_day", "at", "kind", "lot_id", "quantity", "cost"),
        # What was sold in a year is few of what moved in it.
        Index("ix_movement_by_kind", "kind", "at", "lot_id", "quantity", "cost"),
        # Of all movements few are a market's: an index of them alone tells the database so.
        Index(
            "ix_movement_of_market", "market_id",
            sqlite_where=AT_MARKET, postgresql_where=AT_MARKET,
        ),
    )  # fmt: skip

    id: Mapped[Key]
    lot_id: Mapped[int] = refers_to("lot")
    kind: Mapped[MovementKind] = mapped_column(OneOf(MovementKind))
    quantity: Mapped[int] = mapped_column(Quantity)
    cost: Mapped[Decimal] = mapped_column(Money())
    at: Mapped[datetime] = mapped_column(Moment())
    batch_id: Mapped[int | None] = refers_to("batch", needed=False)
    order_id: Mapped[int | None] = refers_to("customer_order", needed=False)
    market_id: Mapped[int | None] = refers_to("market", needed=False, index=False)
    reverses_id: Mapped[int | None] = refers_to("movement", needed=False, index=False)
    note: Mapped[Note]
    lot: Mapped[Lot] = relationship(back_populates="movements")
