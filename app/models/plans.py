"""Answers to cutting questions, kept so that a question has one answer for good."""

from __future__ import annotations

from typing import Any

from sqlalchemy import JSON, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import Base
from app.models.columns import Key


class KeptPlan(Base):
    """The answer to one paper's question, under the digest of that question."""

    __tablename__ = "kept_plan"

    id: Mapped[Key]
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    answer: Mapped[dict[str, Any]] = mapped_column(JSON)
