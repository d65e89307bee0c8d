"""Markets: selling days, what is taken there, and what came home again."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import CheckConstraint, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base, Minutes, Money, Rate
from app.models.columns import Key, Name, Note, refers_to
from app.models.designs import Variant
from app.models.shop import Channel


class Market(Base):
    """A market of a day or several: place, dates, what the stall and the way there cost.

    ``fee_share`` is what the organiser takes of the takings, ``home_share`` what of its cost is
    lost when a journal is carried home again, ``like_id`` another market to learn from. Once it is
    closed: what the cash box held before and after, fees as they were billed, and the hours at the
    stall and on the way.
    """

    __tablename__ = "market"

    id: Mapped[Key]
    name: Mapped[Name]
    place: Mapped[Name] = mapped_column(default="")
    day: Mapped[date]
    last_day: Mapped[date | None]
    """Where it goes on for several days."""
    open_minutes: Mapped[Decimal] = mapped_column(Minutes(), default=Decimal(0), server_default="0")
    """How long it sells, all days together; nothing where nobody said."""
    channel_id: Mapped[int] = refers_to("channel")
    stall_fee: Mapped[Decimal] = mapped_column(Money())
    travel: Mapped[Decimal] = mapped_column(Money())
    fee_share: Mapped[Decimal] = mapped_column(Rate(), default=Decimal(0), server_default="0")
    home_share: Mapped[Decimal] = mapped_column(
        Rate(), default=Decimal("0.2"), server_default="200000"
    )
    like_id: Mapped[int | None] = mapped_column(
        # A market may be like one that was written down after it.
        ForeignKey("market.id", ondelete="RESTRICT", deferrable=True, initially="DEFERRED"),
        index=True,
    )
    note: Mapped[Note]
    closed_on: Mapped[date | None]
    fee_rate: Mapped[Decimal | None] = mapped_column(Rate())
    fixed_fee: Mapped[Decimal | None] = mapped_column(Money())
    """What the channel took when it was closed."""
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
    guesses: Mapped[list[MarketGuess]] = relationship(
        order_by="MarketGuess.id", cascade="all, delete-orphan"
    )

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form

    @property
    def ends(self) -> date:
        """Its last day."""
        return self.last_day or self.day

    @property
    def days(self) -> list[date]:
        """All its days."""
        return [self.day + timedelta(days=n) for n in range((self.ends - self.day).days + 1)]


class MarketLine(Base):
    """How many of a variant to take, how many are in the boxes; later how many came home."""

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
    packed: Mapped[int] = mapped_column(default=0, server_default="0")
    market: Mapped[Market] = relationship(back_populates="lines")
    variant: Mapped[Variant] = relationship()


class MarketGuess(Base):
    """How many of a variant may be asked for at a market, as the maker guesses."""

    __tablename__ = "market_guess"
    __table_args__ = (
        UniqueConstraint("market_id", "variant_id"),
        CheckConstraint("low >= 0 AND low <= likely AND likely <= high", name="rising"),
    )

    id: Mapped[Key]
    market_id: Mapped[int] = refers_to("market")
    variant_id: Mapped[int] = refers_to("variant")
    low: Mapped[int]
    likely: Mapped[int]
    high: Mapped[int]
    variant: Mapped[Variant] = relationship()
