"""Markets: selling days, what is taken there, and what came home again."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base, Minutes, Money
from app.models.columns import Key, Name, Note, refers_to
from app.models.designs import Variant
from app.models.shop import Channel


class Market(Base):
    """A selling day: place, date, what the stall and the way there cost.

    Once it is closed: what the cash box held before and after, fees as they were billed, and the
    hours at the stall and on the way.
    """

    __tablename__ = "market"

    id: Mapped[Key]
    name: Mapped[Name]
    place: Mapped[Name] = mapped_column(default="")
    day: Mapped[date]
    channel_id: Mapped[int] = refers_to("channel")
    stall_fee: Mapped[Decimal] = mapped_column(Money())
    travel: Mapped[Decimal] = mapped_column(Money())
    note: Mapped[Note]
    closed_on: Mapped[date | None]
    float_cash: Mapped[Decimal] = mapped_column(Money(), default=Decimal(0), server_default="0")
    cash_counted: Mapped[Decimal | None] = mapped_column(Money())
    card_fees: Mapped[Decimal | None] = mapped_column(Money())
    stall_minutes: Mapped[Decimal] = mapped_column(
        Minutes(), default=Decimal(0), server_default="0"
    )
    travel_minutes: Mapped[Decimal] = mapped_column(
        Minutes(), default=Decimal(0), server_default="0"
    )
    version: Mapped[int] = mapped_column()
    channel: Mapped[Channel] = relationship()
    lines: Mapped[list[MarketLine]] = relationship(
        back_populates="market", order_by="MarketLine.id", cascade="all, delete-orphan"
    )

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class MarketLine(Base):
    """How many of a variant to take; later how many came home."""

    __tablename__ = "market_line"
    __table_args__ = (
        UniqueConstraint("market_id", "variant_id"),
        CheckConstraint("take >= 0", name="take"),
    )

    id: Mapped[Key]
    market_id: Mapped[int] = refers_to("market")
    variant_id: Mapped[int] = refers_to("variant")
    take: Mapped[int]
    home: Mapped[int | None]
    market: Mapped[Market] = relationship(back_populates="lines")
    variant: Mapped[Variant] = relationship()
