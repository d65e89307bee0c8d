"""The shop's settings, its channels and times, its number series, and deeds done once."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, String, false
from sqlalchemy.orm import Mapped, mapped_column

from app.core.cutting.cutter import Cutter
from app.core.length import MM
from app.core.states import SheetKind
from app.db import Base, Length, Minutes, Moment, Money, Rate
from app.models.columns import Key, Name, Word
from app.models.materials import Paper

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


class Shop(Base):
    """The one row of settings."""

    __tablename__ = "shop"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[Key]
    name: Mapped[Name]
    currency: Mapped[str] = mapped_column(String(3))
    unit: Mapped[str] = mapped_column(String(2))
    number_style: Mapped[Word] = mapped_column(default="point", server_default="point")
    language: Mapped[Word] = mapped_column(default="en", server_default="en")
    pay_per_hour: Mapped[Decimal] = mapped_column(Money())
    overhead_a_year: Mapped[Decimal] = mapped_column(Money())
    bench_hours_a_year: Mapped[int]
    allowance: Mapped[Decimal] = mapped_column(Rate())
    spoilage: Mapped[Decimal] = mapped_column(Rate())
    tax: Mapped[Decimal] = mapped_column(Rate())
    kerf_nm: Mapped[int] = mapped_column(Length, default=0)
    longest_cut_nm: Mapped[int | None] = mapped_column(Length)
    sheets_a_stroke: Mapped[int] = mapped_column(default=1, server_default="1")
    offcut_short_nm: Mapped[int] = mapped_column(
        Length, default=100 * MM, server_default=str(100 * MM)
    )
    offcut_long_nm: Mapped[int] = mapped_column(
        Length, default=150 * MM, server_default=str(150 * MM)
    )
    offcut_worth: Mapped[Decimal] = mapped_column(
        Rate(), default=Decimal("0.5"), server_default="500000"
    )
    order_cost: Mapped[Decimal] = mapped_column(Money(), default=Decimal(5), server_default="50000")
    holding_rate: Mapped[Decimal] = mapped_column(
        Rate(), default=Decimal("0.2"), server_default="200000"
    )
    service_level: Mapped[Decimal] = mapped_column(
        Rate(), default=Decimal("0.95"), server_default="950000"
    )
    packing_grams: Mapped[int] = mapped_column(default=30, server_default="30")
    packing_nm: Mapped[int] = mapped_column(Length, default=5 * MM, server_default=str(5 * MM))
    batch_size: Mapped[int] = mapped_column(default=12)
    valuation: Mapped[Word] = mapped_column(default="fifo")
    averaged_up_to: Mapped[int | None]
    """The newest lot that was here when the shop last left the weighted average."""
    print_paper: Mapped[Word] = mapped_column(default="A4")
    week_begins: Mapped[int] = mapped_column(default=0, server_default="0")
    """Its first day: 0 is Monday, 6 Sunday."""
    monday: Mapped[int] = mapped_column(default=0)
    tuesday: Mapped[int] = mapped_column(default=0)
    wednesday: Mapped[int] = mapped_column(default=0)
    thursday: Mapped[int] = mapped_column(default=0)
    friday: Mapped[int] = mapped_column(default=0)
    saturday: Mapped[int] = mapped_column(default=0)
    sunday: Mapped[int] = mapped_column(default=0)
    version: Mapped[int] = mapped_column()

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form

    @property
    def cutter(self) -> Cutter:
        """The maker's trimmer or knife, as the cutting core knows it."""
        return Cutter(self.kerf_nm, self.longest_cut_nm, lift=self.sheets_a_stroke)

    def cutter_for(self, paper: Paper) -> Cutter:
        """What a paper is cut with: cloth and leather by hand, as long a cut as it takes."""
        by_hand = any(sheet.kind != SheetKind.SHEET for sheet in paper.sheets)
        return replace(self.cutter, longest_nm=None) if by_hand else self.cutter

    @property
    def smallest_offcut(self) -> tuple[int, int]:
        """Sides of the smallest remainder worth keeping."""
        return self.offcut_short_nm, self.offcut_long_nm

    @property
    def week_minutes(self) -> tuple[int, ...]:
        """Bench minutes of Monday to Sunday."""
        return tuple(getattr(self, day) for day in WEEKDAYS)


class OperationTime(Base):
    """The shop's own minutes for an operation, once they differ from the first ones offered."""

    __tablename__ = "operation_time"

    id: Mapped[Key]
    operation: Mapped[str] = mapped_column(String(40), unique=True)
    setup_minutes: Mapped[Decimal] = mapped_column(Minutes())
    minutes_each: Mapped[Decimal] = mapped_column(Minutes())
    waiting_hours: Mapped[Decimal] = mapped_column(Minutes(), server_default="0")
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class Channel(Base):
    """A way of selling, with what it takes of each sale."""

    __tablename__ = "channel"

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), unique=True)
    fee_rate: Mapped[Decimal] = mapped_column(Rate())
    fixed_fee: Mapped[Decimal] = mapped_column(Money())
    margin: Mapped[Decimal] = mapped_column(Rate())
    price_point: Mapped[Word] = mapped_column(default="any")
    wholesale: Mapped[bool] = mapped_column(default=False)
    position: Mapped[int] = mapped_column(default=0)
    retired: Mapped[bool] = mapped_column(default=False)
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class PostageBand(Base):
    """What posting one parcel costs up to a weight and a size, as the maker's carrier asks."""

    __tablename__ = "postage_band"
    __table_args__ = (
        CheckConstraint("most_grams > 0", name="most_grams"),
        CheckConstraint("price >= 0", name="price"),
    )

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), unique=True)
    most_grams: Mapped[int]
    long_nm: Mapped[int] = mapped_column(Length)
    wide_nm: Mapped[int] = mapped_column(Length)
    thick_nm: Mapped[int] = mapped_column(Length)
    price: Mapped[Decimal] = mapped_column(Money())
    retired: Mapped[bool] = mapped_column(default=False, server_default=false())
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class NumberSeries(Base):
    """The next number of a series without gaps, taken in the transaction that uses it."""

    __tablename__ = "number_series"

    name: Mapped[str] = mapped_column(String(40), primary_key=True)
    next_number: Mapped[int]


class Deed(Base):
    """Something done, by the key its form carried: sent twice, it happens once."""

    __tablename__ = "deed"

    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    at: Mapped[datetime] = mapped_column(Moment())
    led_to: Mapped[str] = mapped_column(String(200))
