"""What the shop makes for itself: a recipe for a sheet or a material, and goods made in a batch."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy import CheckConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.db import Base, Length, Minutes, Quantity, Rate
from app.models.batches import Batch
from app.models.columns import Key, Name, exactly_one, refers_to
from app.models.materials import Material, Paper, StockSheet


class Recipe(Base):
    """How one thing is made: ``makes`` base units at a time, of its parts, in so many minutes.

    ``setup_minutes`` are once for all made together, ``minutes`` for each time; it is done
    ``days`` after it is begun. A share ``loss`` of what is begun is lost.
    """

    __tablename__ = "recipe"
    __table_args__ = (
        exactly_one("stock_sheet_id", "material_id"),
        UniqueConstraint("stock_sheet_id"),
        UniqueConstraint("material_id"),
        CheckConstraint("makes > 0", name="makes_something"),
        CheckConstraint("days >= 0", name="days"),
        CheckConstraint("setup_minutes >= 0 AND minutes >= 0", name="minutes"),
    )

    id: Mapped[Key]
    stock_sheet_id: Mapped[int | None] = refers_to("stock_sheet", needed=False, index=False)
    material_id: Mapped[int | None] = refers_to("material", needed=False, index=False)
    makes: Mapped[int] = mapped_column(Quantity)
    setup_minutes: Mapped[Decimal] = mapped_column(Minutes())
    minutes: Mapped[Decimal] = mapped_column(Minutes())
    days: Mapped[int]
    loss: Mapped[Decimal] = mapped_column(Rate())
    version: Mapped[int] = mapped_column(server_default="1")
    stock_sheet: Mapped[StockSheet | None] = relationship()
    material: Mapped[Material | None] = relationship()
    parts: Mapped[list[RecipePart]] = relationship(
        back_populates="recipe", order_by="RecipePart.position", cascade="all, delete-orphan"
    )

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form

    @property
    def item(self) -> StockSheet | Material:
        """What is made by it."""
        thing = self.stock_sheet or self.material
        if thing is None:
            raise AssertionError("a recipe is for something")
        return thing


class RecipePart(Base):
    """What one time takes: so much of a material, or so many pieces of a paper cut to a size."""

    __tablename__ = "recipe_part"
    __table_args__ = (
        exactly_one("paper_id", "material_id"),
        UniqueConstraint("recipe_id", "position"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("grain IN ('width', 'height')", name="grain_side"),
        CheckConstraint(
            "material_id IS NOT NULL OR (width_nm > 0 AND height_nm > 0)", name="piece_has_area"
        ),
    )

    id: Mapped[Key]
    recipe_id: Mapped[int] = refers_to("recipe")
    position: Mapped[int]
    paper_id: Mapped[int | None] = refers_to("paper", needed=False)
    material_id: Mapped[int | None] = refers_to("material", needed=False)
    quantity: Mapped[int] = mapped_column(Quantity)
    width_nm: Mapped[int | None] = mapped_column(Length)
    height_nm: Mapped[int | None] = mapped_column(Length)
    grain: Mapped[str | None] = mapped_column(String(6))
    recipe: Mapped[Recipe] = relationship(back_populates="parts")
    paper: Mapped[Paper | None] = relationship()
    material: Mapped[Material | None] = relationship()


class GoodsLine(Base):
    """So much of a sheet or a material begun in a batch by its recipe, and how much came out."""

    __tablename__ = "goods_line"
    __table_args__ = (
        exactly_one("stock_sheet_id", "material_id"),
        CheckConstraint("times > 0", name="times"),
        CheckConstraint("expected > 0 AND good >= 0", name="outcome"),
    )

    id: Mapped[Key]
    batch_id: Mapped[int] = refers_to("batch")
    stock_sheet_id: Mapped[int | None] = refers_to("stock_sheet", needed=False)
    material_id: Mapped[int | None] = refers_to("material", needed=False)
    name: Mapped[Name]
    times: Mapped[int]
    begun: Mapped[int] = mapped_column(Quantity)
    expected: Mapped[int] = mapped_column(Quantity)
    good: Mapped[int] = mapped_column(Quantity, default=0)
    days: Mapped[int]
    minutes: Mapped[Decimal] = mapped_column(Minutes())
    batch: Mapped[Batch] = relationship(back_populates="goods")
    stock_sheet: Mapped[StockSheet | None] = relationship()
    material: Mapped[Material | None] = relationship()

    @property
    def item(self) -> StockSheet | Material:
        """What is made in it."""
        thing = self.stock_sheet or self.material
        if thing is None:
            raise AssertionError("a line of goods is of something")
        return thing
