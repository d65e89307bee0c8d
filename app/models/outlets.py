"""Shops that sell on commission: what they have is the maker's until they say it is sold."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base, Moment, Money, Rate
from app.models.columns import Key, Note, Word, refers_to
from app.models.designs import Variant
from app.models.shop import Channel


class Outlet(Base):
    """A shop that sells for the maker, at the prices of a channel, for a share of each sale."""

    __tablename__ = "outlet"

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), unique=True)
    channel_id: Mapped[int] = refers_to("channel")
    commission: Mapped[Decimal] = mapped_column(Rate())
    contact: Mapped[Note]
    note: Mapped[Note]
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())
    version: Mapped[int] = mapped_column(server_default="1")
    channel: Mapped[Channel] = relationship()

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class Statement(Base):
    """What a shop says it sold, at the commission of that day; ``costs`` are what else it took off.

    One that was a mistake is undone: it keeps its number, and its movements are reversed.
    """

    __tablename__ = "statement"

    id: Mapped[Key]
    number: Mapped[int] = mapped_column(unique=True)
    outlet_id: Mapped[int] = refers_to("outlet")
    stated_on: Mapped[date]
    commission: Mapped[Decimal] = mapped_column(Rate())
    costs: Mapped[Decimal] = mapped_column(Money(), default=Decimal(0), server_default="0")
    tax_rate: Mapped[Decimal] = mapped_column(Rate())
    undone_at: Mapped[datetime | None] = mapped_column(Moment())
    outlet: Mapped[Outlet] = relationship()
    lines: Mapped[list[StatementLine]] = relationship(
        back_populates="statement", order_by="StatementLine.id", cascade="all, delete-orphan"
    )

    @property
    def total(self) -> Decimal:
        """What customers paid the shop."""
        return sum((line.quantity * line.unit_price for line in self.lines), Decimal(0))


class StatementLine(Base):
    """So many of a variant at the price they went for."""

    __tablename__ = "statement_line"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("unit_price >= 0", name="unit_price"),
    )

    id: Mapped[Key]
    statement_id: Mapped[int] = refers_to("statement")
    variant_id: Mapped[int] = refers_to("variant")
    quantity: Mapped[int]
    unit_price: Mapped[Decimal] = mapped_column(Money())
    statement: Mapped[Statement] = relationship(back_populates="lines")
    variant: Mapped[Variant] = relationship()


class StatementDraw(Base):
    """What left one lot with one line of a statement."""

    __tablename__ = "statement_draw"

    id: Mapped[Key]
    statement_line_id: Mapped[int] = refers_to("statement_line")
    movement_id: Mapped[int] = mapped_column(
        ForeignKey("movement.id", ondelete="RESTRICT"), unique=True
    )


class OutletPayment(Base):
    """Money a shop paid; one that was a mistake is answered by its opposite, which names it."""

    __tablename__ = "outlet_payment"
    __table_args__ = (
        CheckConstraint("amount <> 0", name="amount"),
        UniqueConstraint("reverses_id"),
    )

    id: Mapped[Key]
    outlet_id: Mapped[int] = refers_to("outlet")
    amount: Mapped[Decimal] = mapped_column(Money())
    paid_on: Mapped[date] = mapped_column(index=True)
    how: Mapped[Word]
    reverses_id: Mapped[int | None] = refers_to("outlet_payment", needed=False, index=False)
