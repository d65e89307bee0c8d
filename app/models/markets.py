"""Markets: selling days, what is taken there, and what came home again."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base, Money
from app.models.columns import Key, Name, Note, refers_to
from app.models.designs import Variant
from app.models.shop import Channel


class Market(Base):
    """A selling day: place, date, what the stall and the way there cost."""

    __tablename__ = "market"

    id: Mapped[Key]
    name: Mapped[Name]
    place: Mapped[Name] = mapped_column(default="")
    day: Mapped[date]
    channel_id: Mapped[int] = refers_to("channel")
    stall_fee: Mapped[Decimal] = mapped_column(Money())
    travel: Mapped[Decimal] = mapped_column(Money())
    note: Mapped[Note]
    version: Mapped[int] = mapped_column()
    channel: Mapped[Channel] = relationship()
    lines: Mapped[list[MarketLine]] = relationship(
        back_populates="market", order_by="MarketLine.id", cascade="all, delete-orphan"
    )

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class MarketLine(Base):
    """How many of a variant to take; later how many were sold, and how many came home."""

    __tablename__ = "market_line"
    __table_args__ = (
        UniqueConstraint("market_id", "variant_id"),
        CheckConstraint("take >= 0", name="take"),
    )

    id: Mapped[Key]
    market_id: Mapped[int] = refers_to("market")
    variant_id: Mapped[int] = refers_to("variant")
    take: Mapped[int]
    sold: Mapped[int | None]
    home: Mapped[int | None]
    market: Mapped[Market] = relationship(back_populates="lines")
    variant: Mapped[Variant] = relationship()
