"""What was agreed, paid and written on papers, as a chain of digests that shows a later change."""

from __future__ import annotations

from sqlalchemy import Index, String
from sqlalchemy.orm import Mapped, mapped_column

from app.db import Base
from app.models.columns import Word


class Seal(Base):
    """The digest of something's money as it was kept, chained to the seal before it.

    The newest seal of a thing is the one that counts: an order that is agreed anew has another.
    """

    __tablename__ = "seal"
    __table_args__ = (Index(None, "what", "of_id"),)

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    what: Mapped[Word]
    of_id: Mapped[int]
    digest: Mapped[str] = mapped_column(String(64))
    """SHA-256 of its facts."""
    chained: Mapped[str] = mapped_column(String(64))
    """SHA-256 of the chained digest before, of what this is of, and of the digest."""
