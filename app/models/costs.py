"""What the shop costs whatever is made: rent, tools, insurance."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.core.states import CostKind
from app.db import Base, Moment, Money
from app.models.columns import Key, Name, Note, OneOf


class OtherCost(Base):
    """A cost that belongs to no journal, spread evenly over ``months`` from the one of its day.

    One that was written down by mistake is struck out, not deleted.
    """

    __tablename__ = "other_cost"
    __table_args__ = (
        CheckConstraint("amount > 0", name="amount"),
        CheckConstraint("months >= 1 AND months <= 120", name="months"),
    )

    id: Mapped[Key]
    day: Mapped[date] = mapped_column(index=True)
    what: Mapped[Name]
    kind: Mapped[CostKind] = mapped_column(OneOf(CostKind))
    amount: Mapped[Decimal] = mapped_column(Money())
    months: Mapped[int] = mapped_column(default=1, server_default="1")
    note: Mapped[Note]
    struck_at: Mapped[datetime | None] = mapped_column(Moment())
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form
