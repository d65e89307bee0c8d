"""Purchases from suppliers, their lines, and what was received of them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.states import PurchaseState
from app.db import Base, Money, Quantity
from app.models.columns import Key, Note, OneOf, exactly_one, refers_to
from app.models.materials import Material, StockSheet, Supplier
from app.models.stock import Lot


class Purchase(Base):
    """An order to a supplier."""

    __tablename__ = "purchase"

    id: Mapped[Key]
    number: Mapped[int] = mapped_column(unique=True)
    supplier_id: Mapped[int] = refers_to("supplier")
    state: Mapped[PurchaseState] = mapped_column(OneOf(PurchaseState))
    sent_on: Mapped[date | None]
    expected_on: Mapped[date | None]
    note: Mapped[Note]
    version: Mapped[int] = mapped_column(server_default="1")
    supplier: Mapped[Supplier] = relationship()
    lines: Mapped[list[PurchaseLine]] = relationship(
        back_populates="purchase", order_by="PurchaseLine.id", cascade="all, delete-orphan"
    )
    receipts: Mapped[list[Receipt]] = relationship(back_populates="purchase", order_by="Receipt.id")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class PurchaseLine(Base):
    """So many packs of one thing at the price of the day it was ordered."""

    __tablename__ = "purchase_line"
    __table_args__ = (
        exactly_one("stock_sheet_id", "material_id"),
        CheckConstraint("packs > 0 AND pack_quantity > 0", name="packs"),
    )

    id: Mapped[Key]
    purchase_id: Mapped[int] = refers_to("purchase")
    stock_sheet_id: Mapped[int | None] = refers_to("stock_sheet", needed=False)
    material_id: Mapped[int | None] = refers_to("material", needed=False)
    packs: Mapped[int]
    pack_quantity: Mapped[int] = mapped_column(Quantity)
    pack_price: Mapped[Decimal] = mapped_column(Money())
    received: Mapped[list[ReceiptLine]] = relationship(back_populates="line")
    purchase: Mapped[Purchase] = relationship(back_populates="lines")
    stock_sheet: Mapped[StockSheet | None] = relationship()
    material: Mapped[Material | None] = relationship()


class Receipt(Base):
    """What came on one day, with the carriage paid for it."""

    __tablename__ = "receipt"

    id: Mapped[Key]
    purchase_id: Mapped[int] = refers_to("purchase")
    came_on: Mapped[date]
    carriage: Mapped[Decimal] = mapped_column(Money())
    purchase: Mapped[Purchase] = relationship(back_populates="receipts")
    lines: Mapped[list[ReceiptLine]] = relationship(
        back_populates="receipt", order_by="ReceiptLine.id"
    )


class ReceiptLine(Base):
    """Packs of a purchase line that came, and the lot they became."""

    __tablename__ = "receipt_line"
    __table_args__ = (CheckConstraint("packs > 0", name="packs"),)

    id: Mapped[Key]
    receipt_id: Mapped[int] = refers_to("receipt")
    purchase_line_id: Mapped[int] = refers_to("purchase_line")
    lot_id: Mapped[int] = refers_to("lot")
    packs: Mapped[int]
    receipt: Mapped[Receipt] = relationship(back_populates="lines")
    line: Mapped[PurchaseLine] = relationship(back_populates="received")
    lot: Mapped[Lot] = relationship()
