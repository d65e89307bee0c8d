"""Column shapes that several records share."""

from __future__ import annotations

from typing import Annotated, Any

from sqlalchemy import CheckConstraint, ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column

Key = Annotated[int, mapped_column(primary_key=True)]
Name = Annotated[str, mapped_column(String(120))]
Word = Annotated[str, mapped_column(String(40))]
Note = Annotated[str, mapped_column(Text, default="", server_default="")]


def refers_to(table: str, *, needed: bool = True, index: bool = True) -> Mapped[Any]:
    """A foreign key column; what it names cannot be deleted from under it."""
    return mapped_column(
        ForeignKey(f"{table}.id", ondelete="RESTRICT"), nullable=not needed, index=index
    )


def exactly_one(*columns: str) -> CheckConstraint:
    """Exactly one of the columns is filled."""
    terms = " + ".join(f"(CASE WHEN {column} IS NULL THEN 0 ELSE 1 END)" for column in columns)
    return CheckConstraint(f"{terms} = 1", name="exactly_one_" + "_".join(columns)[:30])
