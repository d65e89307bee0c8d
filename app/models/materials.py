"""Papers with the sheets they are bought in, materials, suppliers and their dated offers."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.paper import Sheet
from app.core.states import SheetKind
from app.db import Base, Length, Money, Quantity, Rate, ScaledDecimal
from app.models.columns import Key, Name, Note, OneOf, Word, exactly_one, refers_to


class Paper(Base):
    """A kind of sheet stock, whatever size it is bought in."""

    __tablename__ = "paper"

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), unique=True)
    grammage: Mapped[Decimal] = mapped_column(ScaledDecimal(2))
    caliper_nm: Mapped[int] = mapped_column(Length)
    colour: Mapped[Name] = mapped_column(default="")
    finish: Mapped[Name] = mapped_column(default="")
    note: Mapped[Note]
    retired: Mapped[bool] = mapped_column(default=False)
    cut_plan: Mapped[dict[str, Any] | None] = mapped_column(JSON)
    """How the sheets bought last were to be cut."""
    sheets: Mapped[list[StockSheet]] = relationship(
        back_populates="paper", order_by="StockSheet.width_nm, StockSheet.height_nm, StockSheet.id"
    )
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class StockSheet(Base):
    """One size a paper is bought in; also a width of roll, by length, and a kind of hide.

    Of a roll the height is a nanometre and its quantity is so many of them; each lot is one length.
    A hide counts as a rectangle of its usable area, as wide as its largest piece, which is
    ``reach_nm`` high; ``hide_area`` is all of it, in the unit of materials by area.
    """

    __tablename__ = "stock_sheet"
    __table_args__ = (
        CheckConstraint("width_nm > 0 AND height_nm > 0", name="has_area"),
        CheckConstraint("grain IN ('width', 'height')", name="grain_side"),
        CheckConstraint("kind IN ('sheet', 'roll', 'hide')", name="kind"),
        CheckConstraint("kind <> 'roll' OR height_nm = 1", name="roll_by_length"),
        CheckConstraint(
            "kind <> 'hide' OR (hide_area IS NOT NULL AND usable IS NOT NULL "
            "AND reach_nm IS NOT NULL)",
            name="hide_known",
        ),
        CheckConstraint("hide_area > 0 AND usable > 0 AND reach_nm > 0", name="hide_above_nothing"),
        UniqueConstraint("paper_id", "width_nm", "height_nm", "grain"),
    )

    id: Mapped[Key]
    paper_id: Mapped[int] = refers_to("paper")
    width_nm: Mapped[int] = mapped_column(Length)
    height_nm: Mapped[int] = mapped_column(Length)
    grain: Mapped[str | None] = mapped_column(String(6))
    pattern_up: Mapped[bool] = mapped_column(default=False)
    trim_nm: Mapped[int] = mapped_column(Length, default=0)
    kind: Mapped[SheetKind] = mapped_column(
        OneOf(SheetKind), default=SheetKind.SHEET, server_default="sheet"
    )
    hide_area: Mapped[int | None] = mapped_column(Quantity)
    usable: Mapped[Decimal | None] = mapped_column(Rate())
    reach_nm: Mapped[int | None] = mapped_column(Length)
    retired: Mapped[bool] = mapped_column(default=False)
    paper: Mapped[Paper] = relationship(back_populates="sheets")
    offers: Mapped[list[Offer]] = relationship(
        back_populates="stock_sheet", order_by="Offer.valid_from.desc(), Offer.id.desc()"
    )
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form

    @property
    def by_length(self) -> bool:
        """Whether it is cut off a roll."""
        return self.kind == SheetKind.ROLL

    @property
    def measure(self) -> str:
        """What it is bought and counted by, nothing where that is by the sheet."""
        return "length" if self.by_length else ""

    def as_sheet(self, name: str, height_nm: int | None = None) -> Sheet:
        """The sheet as the cutting core knows it; of a roll, a length of it."""
        return Sheet(
            name, self.width_nm, height_nm or self.height_nm, self.grain, self.pattern_up,
            self.trim_nm, self.reach_nm,
        )  # fmt: skip


class Material(Base):
    """Anything else that goes into a journal; ``weight_mg`` is that of a metre, a m² or of one."""

    __tablename__ = "material"
    __table_args__ = (
        CheckConstraint("measure IN ('length', 'count', 'mass', 'volume', 'area')", name="measure"),
    )

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), unique=True)
    measure: Mapped[Word]
    waste: Mapped[Decimal] = mapped_column(Rate(), default=Decimal(0))
    weight_mg: Mapped[int] = mapped_column(Quantity, default=0)
    note: Mapped[Note]
    retired: Mapped[bool] = mapped_column(default=False)
    offers: Mapped[list[Offer]] = relationship(
        back_populates="material", order_by="Offer.valid_from.desc(), Offer.id.desc()"
    )
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class Supplier(Base):
    """Whom things are bought from."""

    __tablename__ = "supplier"

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), unique=True)
    reach: Mapped[Name] = mapped_column(default="")
    note: Mapped[Note]
    retired: Mapped[bool] = mapped_column(default=False)
    offers: Mapped[list[Offer]] = relationship(back_populates="supplier")
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class Offer(Base):
    """What a supplier sells from a date on: a pack, its price breaks, the days it takes.

    ``carriage`` is what bringing one pack costs on top of its price, None where it is not known.

    A newer offer of the same supplier for the same thing takes the older one's place.
    """

    __tablename__ = "offer"
    __table_args__ = (
        exactly_one("stock_sheet_id", "material_id"),
        CheckConstraint("pack_quantity > 0", name="pack_holds_something"),
        CheckConstraint("lead_days >= 0", name="lead_days"),
    )

    id: Mapped[Key]
    supplier_id: Mapped[int] = refers_to("supplier")
    stock_sheet_id: Mapped[int | None] = refers_to("stock_sheet", needed=False)
    material_id: Mapped[int | None] = refers_to("material", needed=False)
    pack_quantity: Mapped[int] = mapped_column(Quantity)
    lead_days: Mapped[int]
    valid_from: Mapped[date]
    carriage: Mapped[Decimal | None] = mapped_column(Money())
    supplier: Mapped[Supplier] = relationship(back_populates="offers")
    stock_sheet: Mapped[StockSheet | None] = relationship(back_populates="offers")
    material: Mapped[Material | None] = relationship(back_populates="offers")
    breaks: Mapped[list[OfferBreak]] = relationship(
        back_populates="offer", order_by="OfferBreak.from_packs", cascade="all, delete-orphan"
    )

    @property
    def prices(self) -> dict[int, Decimal]:
        """Least packs to price of a pack."""
        return {row.from_packs: row.pack_price for row in self.breaks}


class OfferBreak(Base):
    """The price of a pack from this many packs on."""

    __tablename__ = "offer_break"
    __table_args__ = (
        UniqueConstraint("offer_id", "from_packs"),
        CheckConstraint("from_packs >= 1", name="from_packs"),
        CheckConstraint("pack_price >= 0", name="pack_price"),
    )

    id: Mapped[Key]
    offer_id: Mapped[int] = refers_to("offer")
    from_packs: Mapped[int]
    pack_price: Mapped[Decimal] = mapped_column(Money())
    offer: Mapped[Offer] = relationship(back_populates="breaks")
