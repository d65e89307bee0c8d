"""Column shapes that several records share."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any, TypeVar

from sqlalchemy import CheckConstraint, Dialect, ForeignKey, String, Text
from sqlalchemy.orm import Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

Key = Annotated[int, mapped_column(primary_key=True)]
Name = Annotated[str, mapped_column(String(120))]
Word = Annotated[str, mapped_column(String(40))]
Note = Annotated[str, mapped_column(Text, default="", server_default="")]


Chosen = TypeVar("Chosen", bound=StrEnum)


class OneOf(TypeDecorator[Chosen]):
    """A word of an enumeration, kept as the word."""

    impl = String(40)
    cache_ok = True

    def __init__(self, words: type[Chosen]) -> None:
        super().__init__()
        self.words = words

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:
        return None if value is None else self.words(value).value

    def process_result_value(self, value: str | None, dialect: Dialect) -> Chosen | None:
        return None if value is None else self.words(value)


def refers_to(table: str, *, needed: bool = True, index: bool = True) -> Mapped[Any]:
    """A foreign key column; what it names cannot be deleted from under it."""
    return mapped_column(
        ForeignKey(f"{table}.id", ondelete="RESTRICT"), nullable=not needed, index=index
    )


def exactly_one(*columns: str) -> CheckConstraint:
    """Exactly one of the columns is filled."""
    terms = " + ".join(f"(CASE WHEN {column} IS NULL THEN 0 ELSE 1 END)" for column in columns)
    return CheckConstraint(f"{terms} = 1", name="exactly_one_" + "_".join(columns)[:30])
