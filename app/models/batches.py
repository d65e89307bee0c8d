"""Batches: what is made together, the minutes it took, and the plan it was cut by."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, CheckConstraint, Text, UniqueConstraint
from sqlalchemy.ext.hybrid import hybrid_property
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.states import BatchState
from app.db import Base, Minutes, Moment, Money
from app.models.columns import Key, Name, Note, OneOf, Word, refers_to
from app.models.designs import Variant
from app.models.orders import OrderLine

if TYPE_CHECKING:
    from app.models.recipes import GoodsLine


class Batch(Base):
    """So many of one or several variants made together."""

    __tablename__ = "batch"

    id: Mapped[Key]
    number: Mapped[int] = mapped_column(unique=True)
    name: Mapped[Name] = mapped_column(default="")
    state: Mapped[BatchState] = mapped_column(OneOf(BatchState))
    wanted_by: Mapped[date | None]
    minutes: Mapped[Decimal | None] = mapped_column(Minutes())
    work_cost: Mapped[Decimal | None] = mapped_column(Money())
    spoiled_cost: Mapped[Decimal | None] = mapped_column(Money())
    cut_plan: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    note: Mapped[Note]
    lines: Mapped[list[BatchLine]] = relationship(
        back_populates="batch", order_by="BatchLine.id", cascade="all, delete-orphan"
    )
    goods: Mapped[list[GoodsLine]] = relationship(
        back_populates="batch", order_by="GoodsLine.id", cascade="all, delete-orphan"
    )
    """What is made in it for the shop itself; a batch has either these or lines."""


class BatchLine(Base):
    """So many of a variant, for an order line, for a market, or for the shelf."""

    __tablename__ = "batch_line"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("good >= 0 AND spoiled >= 0", name="outcome"),
    )

    id: Mapped[Key]
    batch_id: Mapped[int] = refers_to("batch")
    variant_id: Mapped[int] = refers_to("variant")
    order_line_id: Mapped[int | None] = refers_to("order_line", needed=False)
    market_id: Mapped[int | None] = refers_to("market", needed=False)
    quantity: Mapped[int]
    good: Mapped[int] = mapped_column(default=0)
    spoiled: Mapped[int] = mapped_column(default=0)
    why_spoiled: Mapped[str] = mapped_column(Text, default="", server_default="")
    batch: Mapped[Batch] = relationship(back_populates="lines")
    variant: Mapped[Variant] = relationship()
    order_line: Mapped[OrderLine | None] = relationship()

    @hybrid_property
    def left(self) -> int:
        """How many have come out neither good nor spoiled yet."""
        return self.quantity - self.good - self.spoiled


class BatchOperation(Base):
    """An operation of a batch as it was planned: how much of it, its minutes, what waits after it.

    ``count`` is of its driver over the whole batch, ``setups`` how often it is set up for.
    """

    __tablename__ = "batch_operation"
    __table_args__ = (
        CheckConstraint("count >= 0 AND setups >= 0", name="count"),
        CheckConstraint("planned >= 0", name="planned"),
        UniqueConstraint("batch_id", "operation"),
    )

    id: Mapped[Key]
    batch_id: Mapped[int] = refers_to("batch")
    position: Mapped[int]
    operation: Mapped[Word]
    label: Mapped[Name]
    driver: Mapped[Word]
    count: Mapped[int]
    setups: Mapped[int]
    planned: Mapped[Decimal] = mapped_column(Minutes())
    waiting_hours: Mapped[Decimal] = mapped_column(Minutes())
    done_at: Mapped[datetime | None] = mapped_column(Moment())
    batch: Mapped[Batch] = relationship()


class Clock(Base):
    """The one clock that runs at the bench, since when and for what; it outlives the program."""

    __tablename__ = "clock"
    __table_args__ = (CheckConstraint("id = 1", name="one"),)

    id: Mapped[Key]
    batch_operation_id: Mapped[int] = refers_to("batch_operation")
    started_at: Mapped[datetime] = mapped_column(Moment())
    operation: Mapped[BatchOperation] = relationship()


class LoggedMinutes(Base):
    """Minutes spent on one operation of a batch."""

    __tablename__ = "logged_minutes"

    id: Mapped[Key]
    batch_id: Mapped[int] = refers_to("batch")
    operation: Mapped[Word]
    minutes: Mapped[Decimal] = mapped_column(Minutes())
    at: Mapped[datetime] = mapped_column(Moment())
