"""What is sold at a stall: sales with their lines, and what of which lot went with each."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.states import PaidHow
from app.db import Base, Moment, Money, Rate
from app.models.columns import Key, OneOf, Word, refers_to
from app.models.designs import Variant
from app.models.markets import Market

NOT_PAID = text("paid_at IS NULL")


class Sale(Base):
    """What one customer takes at a stall: begun with the first stroke, numbered when it is paid.

    ``till`` is the browser that writes it, so that two phones at one stall have a sheet each. One
    that was a mistake is undone: it keeps its number, and its movements are reversed.
    """

    __tablename__ = "sale"
    __table_args__ = (
        Index(
            "uq_sale_begun", "market_id", "till", unique=True,
            sqlite_where=NOT_PAID, postgresql_where=NOT_PAID,
        ),
        CheckConstraint("(number IS NULL) = (paid_at IS NULL)", name="numbered_when_paid"),
    )  # fmt: skip

    id: Mapped[Key]
    number: Mapped[int | None] = mapped_column(unique=True)
    market_id: Mapped[int] = refers_to("market")
    till: Mapped[Word]
    paid_at: Mapped[datetime | None] = mapped_column(Moment())
    how: Mapped[PaidHow | None] = mapped_column(OneOf(PaidHow))
    undone_at: Mapped[datetime | None] = mapped_column(Moment())
    tax_rate: Mapped[Decimal | None] = mapped_column(Rate())
    """The rate of the day it was paid."""
    market: Mapped[Market] = relationship()
    lines: Mapped[list[SaleLine]] = relationship(
        back_populates="sale", order_by="SaleLine.id", cascade="all, delete-orphan"
    )

    @property
    def total(self) -> Decimal:
        """All lines at their prices."""
        return sum((line.amount for line in self.lines), Decimal(0))

    @property
    def pieces(self) -> int:
        """How many journals."""
        return sum(line.quantity for line in self.lines)


class SaleLine(Base):
    """So many of a variant at the price they went for."""

    __tablename__ = "sale_line"
    __table_args__ = (
        UniqueConstraint("sale_id", "variant_id"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("unit_price >= 0", name="unit_price"),
    )

    id: Mapped[Key]
    sale_id: Mapped[int] = refers_to("sale")
    variant_id: Mapped[int] = refers_to("variant")
    quantity: Mapped[int]
    unit_price: Mapped[Decimal] = mapped_column(Money())
    sale: Mapped[Sale] = relationship(back_populates="lines")
    variant: Mapped[Variant] = relationship()

    @property
    def amount(self) -> Decimal:
        """So many at their price."""
        return self.quantity * self.unit_price


class SaleDraw(Base):
    """What left one lot with one line of a sale."""

    __tablename__ = "sale_draw"

    id: Mapped[Key]
    sale_line_id: Mapped[int] = refers_to("sale_line")
    movement_id: Mapped[int] = mapped_column(
        ForeignKey("movement.id", ondelete="RESTRICT"), unique=True
    )
