"""What a customer is given on paper: quotes, invoices, credit notes; and the shop at their head."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    LargeBinary,
    String,
    Text,
    UniqueConstraint,
    false,
    true,
)
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.core.states import DocumentKind
from app.db import Base
from app.models.columns import Key, Name, Note, OneOf, Word, refers_to
from app.models.orders import Order


class Letterhead(Base):
    """The one row of what a shop writes on its papers; texts are as typed, lines by line."""

    __tablename__ = "letterhead"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[Key]
    address: Mapped[Note]
    country: Mapped[str] = mapped_column(String(2), default="", server_default="")
    contact: Mapped[Note]
    tax_number: Mapped[Name] = mapped_column(default="", server_default="")
    register_number: Mapped[Name] = mapped_column(default="", server_default="")
    no_tax_because: Mapped[Note]
    """Why an invoice without tax has none."""
    pay_how: Mapped[Note]
    """Where money is to be paid to, in words."""
    pay_days: Mapped[int] = mapped_column(default=14, server_default="14")
    quote_days: Mapped[int] = mapped_column(default=30, server_default="30")
    quote_pictures: Mapped[bool] = mapped_column(default=True, server_default=true())
    care: Mapped[Note]
    """What the packing slip says on care, beside the cautions of what is in the parcel."""
    logo: Mapped[bytes | None] = mapped_column(LargeBinary)
    """A PNG."""
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class Document(Base):
    """A numbered paper as it was written; it is never changed, only answered by another.

    ``content`` is all that stands on it, so a later change of the order or of the shop changes
    nothing of it. ``until`` is the day a quote holds to or an invoice is to be paid by.
    """

    __tablename__ = "document"
    __table_args__ = (
        UniqueConstraint("kind", "number"),
        UniqueConstraint("answers_id"),
        CheckConstraint("number > 0", name="number"),
    )

    id: Mapped[Key]
    kind: Mapped[DocumentKind] = mapped_column(OneOf(DocumentKind))
    number: Mapped[int]
    order_id: Mapped[int] = refers_to("customer_order")
    issued_on: Mapped[date]
    until: Mapped[date | None]
    answers_id: Mapped[int | None] = refers_to("document", needed=False, index=False)
    """The invoice that a credit note takes back."""
    why: Mapped[str] = mapped_column(Text, default="", server_default="")
    content: Mapped[dict[str, Any]] = mapped_column(JSON)
    order: Mapped[Order] = relationship()
    answers: Mapped[Document | None] = relationship(remote_side="Document.id")


class LabelWords(Base):
    """The one row of what stands on labels and tags beside name and price, and on which sheet."""

    __tablename__ = "label_words"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)

    id: Mapped[Key]
    sheet: Mapped[Word]
    says_made_of: Mapped[bool] = mapped_column(default=False, server_default=false())
    says_address: Mapped[bool] = mapped_column(default=False, server_default=false())
    shows_picture: Mapped[bool] = mapped_column(default=False, server_default=false())
    origin: Mapped[Note]
    care: Mapped[Note]
    small_parts: Mapped[Note]
    more: Mapped[Note]
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form
