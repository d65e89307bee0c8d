"""Journals, their numbered designs, and the variants that are ordered, counted and sold."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, CheckConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.structures.parts import PartPer
from app.db import Base, Minutes, Moment, Money, Quantity
from app.models.columns import Key, Name, Note, OneOf, Word, refers_to
from app.models.materials import Material, Paper
from app.models.shop import Channel


class Journal(Base):
    """A line that the maker sells."""

    __tablename__ = "journal"

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), unique=True)
    note: Mapped[Note]
    retired: Mapped[bool] = mapped_column(default=False)
    designs: Mapped[list[Design]] = relationship(back_populates="journal", order_by="Design.number")
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form

    @property
    def current(self) -> Design:
        """The newest design that is no one-off."""
        return [d for d in self.designs if not d.one_off][-1]


class Design(Base):
    """One numbered, dimensioned version of a journal; frozen once promised or made to.

    ``dimensions`` holds the structure's own keys: whole nanometres, counts, and words.
    ``batch_size`` is how many are made together, None for as many as the shop makes as a rule.
    """

    __tablename__ = "design"
    __table_args__ = (UniqueConstraint("journal_id", "number"),)

    id: Mapped[Key]
    journal_id: Mapped[int] = refers_to("journal")
    number: Mapped[int]
    structure: Mapped[Word]
    dimensions: Mapped[dict[str, Any]] = mapped_column(JSON)
    one_off: Mapped[bool] = mapped_column(default=False)
    batch_size: Mapped[int | None]
    frozen_at: Mapped[datetime | None] = mapped_column(Moment())
    version: Mapped[int] = mapped_column()
    journal: Mapped[Journal] = relationship(back_populates="designs")
    variants: Mapped[list[Variant]] = relationship(back_populates="design", order_by="Variant.id")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class Variant(Base):
    """A design with its papers, colours and findings chosen."""

    __tablename__ = "variant"
    __table_args__ = (
        UniqueConstraint("design_id", "name"),
        CheckConstraint("shelf_level >= 0", name="shelf_level"),
    )

    id: Mapped[Key]
    design_id: Mapped[int] = refers_to("design")
    name: Mapped[Name]
    shelf_level: Mapped[int] = mapped_column(default=0)
    retired: Mapped[bool] = mapped_column(default=False)
    design: Mapped[Design] = relationship(back_populates="variants")
    choices: Mapped[list[Choice]] = relationship(
        back_populates="variant", order_by="Choice.id", cascade="all, delete-orphan"
    )
    prices: Mapped[list[Price]] = relationship(
        back_populates="variant", order_by="Price.channel_id", cascade="all, delete-orphan"
    )
    parts: Mapped[list[Part]] = relationship(
        back_populates="variant", order_by="Part.position", cascade="all, delete-orphan"
    )

    @property
    def full_name(self) -> str:
        """Journal and variant, for lists and documents."""
        return f"{self.design.journal.name}, {self.name}"

    def asked_in(self, channel_id: int) -> Decimal | None:
        """The price asked for it in a channel; None where nobody said."""
        return next((p.amount for p in self.prices if p.channel_id == channel_id), None)


class Choice(Base):
    """What fills a role of the structure: a paper, or a material.

    ``quantity`` (base units) is filled for things with a parts list only, where no structure
    says how much.
    """

    __tablename__ = "choice"
    __table_args__ = (
        UniqueConstraint("variant_id", "role"),
        CheckConstraint("paper_id IS NULL OR material_id IS NULL", name="paper_or_material"),
    )

    id: Mapped[Key]
    variant_id: Mapped[int] = refers_to("variant")
    role: Mapped[Word]
    paper_id: Mapped[int | None] = refers_to("paper", needed=False)
    material_id: Mapped[int | None] = refers_to("material", needed=False)
    quantity: Mapped[int | None] = mapped_column(Quantity)
    variant: Mapped[Variant] = relationship(back_populates="choices")
    paper: Mapped[Paper | None] = relationship()
    material: Mapped[Material | None] = relationship()


class Part(Base):
    """A material beside what the structure takes: so much of it, per journal, signature or batch.

    ``quantity`` is in base units of the material, ``minutes`` are for one of ``per``.
    """

    __tablename__ = "part"
    __table_args__ = (
        UniqueConstraint("variant_id", "position"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("minutes >= 0", name="minutes"),
    )

    id: Mapped[Key]
    variant_id: Mapped[int] = refers_to("variant")
    position: Mapped[int]
    name: Mapped[Name]
    material_id: Mapped[int] = refers_to("material")
    quantity: Mapped[int] = mapped_column(Quantity)
    per: Mapped[PartPer] = mapped_column(OneOf(PartPer))
    minutes: Mapped[Decimal] = mapped_column(Minutes())
    variant: Mapped[Variant] = relationship(back_populates="parts")
    material: Mapped[Material] = relationship()


class Price(Base):
    """What a variant sells for in a channel."""

    __tablename__ = "price"
    __table_args__ = (
        UniqueConstraint("variant_id", "channel_id"),
        CheckConstraint("amount >= 0", name="amount"),
    )

    id: Mapped[Key]
    variant_id: Mapped[int] = refers_to("variant")
    channel_id: Mapped[int] = refers_to("channel")
    amount: Mapped[Decimal] = mapped_column(Money())
    variant: Mapped[Variant] = relationship(back_populates="prices")
    channel: Mapped[Channel] = relationship()


class VariantPicture(Base):
    """A picture of a finished journal: a file of the data folder's ``photos``, and what it shows.

    ``small`` is the same picture small, for lists and papers; its sides are those of ``file``.
    """

    __tablename__ = "variant_picture"

    id: Mapped[Key]
    variant_id: Mapped[int] = refers_to("variant")
    file: Mapped[Name]
    small: Mapped[Name]
    says: Mapped[Note]
    width: Mapped[int]
    height: Mapped[int]
    variant: Mapped[Variant] = relationship()
