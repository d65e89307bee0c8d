"""Customers, their orders, what was agreed, and what was paid."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import (
    CheckConstraint,
    ForeignKey,
    Index,
    String,
    Text,
    UniqueConstraint,
    false,
    text,
)
from sqlalchemy.orm import Mapped, mapped_column, object_session, relationship

from app.core.money import currency, to_minor
from app.core.states import OrderState
from app.db import Base, Moment, Money, Rate
from app.models.columns import Key, Name, Note, OneOf, Word, refers_to
from app.models.designs import Variant
from app.models.shop import Channel, Shop

ZERO = Decimal(0)
SAID = text("asked_for <> ''")
"""Of lines: something was asked for in words."""


class Customer(Base):
    """Who asks; ``erased_at`` says that personal data was taken out on request."""

    __tablename__ = "customer"

    id: Mapped[Key]
    name: Mapped[str] = mapped_column(String(120), index=True)
    email: Mapped[Name] = mapped_column(default="")
    phone: Mapped[Name] = mapped_column(default="")
    address: Mapped[str] = mapped_column(Text, default="", server_default="")
    country: Mapped[str] = mapped_column(String(2), default="", server_default="")
    """Two letters of ISO 3166-1; empty for the shop's own country."""
    tax_number: Mapped[Name] = mapped_column(default="", server_default="")
    note: Mapped[Note]
    erased_at: Mapped[datetime | None] = mapped_column(Moment())
    orders: Mapped[list[Order]] = relationship(back_populates="customer")
    version: Mapped[int] = mapped_column(server_default="1")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form


class Order(Base):
    """What a customer asked for, by when; the tax rate is that of the day it was agreed."""

    __tablename__ = "customer_order"
    __table_args__ = (Index(None, "state", "wanted_by", "number"),)

    id: Mapped[Key]
    number: Mapped[int] = mapped_column(unique=True)
    customer_id: Mapped[int] = refers_to("customer")
    channel_id: Mapped[int] = refers_to("channel")
    state: Mapped[OrderState] = mapped_column(OneOf(OrderState))
    logged_on: Mapped[date]
    wanted_by: Mapped[date] = mapped_column(index=True)
    agreed_at: Mapped[datetime | None] = mapped_column(Moment())
    closed_at: Mapped[datetime | None] = mapped_column(Moment())
    tax_rate: Mapped[Decimal] = mapped_column(Rate())
    fee_rate: Mapped[Decimal | None] = mapped_column(Rate())
    fixed_fee: Mapped[Decimal | None] = mapped_column(Money())
    """What the channel takes, as it was when the order was agreed."""
    note: Mapped[Note]
    deposit_kept: Mapped[bool] = mapped_column(default=False, server_default=false())
    """Of a cancelled order: what was paid is not given back."""
    before_tax: Mapped[bool] = mapped_column(default=False, server_default=false())
    """Prices and postage are before tax, which is put on top; else they include it."""
    postage: Mapped[Decimal] = mapped_column(Money(), default=Decimal(0), server_default="0")
    """What the customer pays for the post."""
    their_number: Mapped[str] = mapped_column(String(60), default="", server_default="", index=True)
    """What the table it came in by calls it."""
    version: Mapped[int] = mapped_column()
    customer: Mapped[Customer] = relationship(back_populates="orders")
    channel: Mapped[Channel] = relationship()
    lines: Mapped[list[OrderLine]] = relationship(
        back_populates="order", order_by="OrderLine.id", cascade="all, delete-orphan"
    )
    payments: Mapped[list[Payment]] = relationship(back_populates="order", order_by="Payment.id")

    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012 - SQLAlchemy's own form

    @property
    def asked(self) -> Decimal:
        """All lines and postage at their prices."""
        return sum((line.amount for line in self.lines), self.postage)

    @property
    def tax_on_top(self) -> Decimal:
        """Tax that the prices do not include, on the sum of them (EN 16931, BR-S-09)."""
        session = object_session(self)
        shop = session.get(Shop, 1) if self.before_tax and session else None
        return to_minor(self.asked * self.tax_rate, currency(shop.currency)) if shop else ZERO

    @property
    def total(self) -> Decimal:
        """What the customer pays for all of it, postage and tax included."""
        return self.asked + self.tax_on_top

    @property
    def paid(self) -> Decimal:
        """What has been paid, refunds taken off."""
        return sum((payment.amount for payment in self.payments), Decimal(0))

    @property
    def balance(self) -> Decimal:
        """What is still to pay; of a cancelled or declined order only what was paid, back.

        Nothing where the deposit of a cancelled order is kept.
        """
        if self.state in (OrderState.CANCELLED, OrderState.DECLINED):
            return Decimal(0) if self.deposit_kept else -self.paid
        return self.total - self.paid


class OrderLine(Base):
    """So many of a variant at an agreed price; ``unit_cost`` is the cost of that day."""

    __tablename__ = "order_line"
    __table_args__ = (
        Index("ix_order_line_said", "order_id", sqlite_where=SAID, postgresql_where=SAID),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("unit_price >= 0", name="unit_price"),
        CheckConstraint("given_up >= 0 AND given_up <= quantity", name="given_up"),
    )

    id: Mapped[Key]
    order_id: Mapped[int] = refers_to("customer_order")
    variant_id: Mapped[int] = refers_to("variant")
    quantity: Mapped[int]
    unit_price: Mapped[Decimal] = mapped_column(Money())
    unit_cost: Mapped[Decimal | None] = mapped_column(Money())
    asked_for: Mapped[str] = mapped_column(Text, default="", server_default="")
    given_up: Mapped[int] = mapped_column(default=0, server_default="0")
    """How many of them are wanted no more: brought back, or closed without."""
    order: Mapped[Order] = relationship(back_populates="lines")
    variant: Mapped[Variant] = relationship()

    @property
    def wanted(self) -> int:
        """How many are wanted still."""
        return self.quantity - self.given_up

    @property
    def amount(self) -> Decimal:
        """What is wanted still × price."""
        return self.wanted * self.unit_price


class OrderPhoto(Base):
    """A picture of what is asked for: a file of the data folder's ``photos``, and what it shows."""

    __tablename__ = "order_photo"

    id: Mapped[Key]
    order_id: Mapped[int] = refers_to("customer_order")
    file: Mapped[Name]
    says: Mapped[str] = mapped_column(Text, default="", server_default="")
    width: Mapped[int]
    height: Mapped[int]
    order: Mapped[Order] = relationship()


class Delivery(Base):
    """Journals of an order given to the customer on a day, all of it or a part.

    One that was written down by mistake has its movements undone.
    """

    __tablename__ = "delivery"
    __table_args__ = (Index(None, "delivered_on", "order_id"),)

    id: Mapped[Key]
    order_id: Mapped[int] = refers_to("customer_order")
    delivered_on: Mapped[date]
    note: Mapped[Note]
    lines: Mapped[list[DeliveryLine]] = relationship(order_by="DeliveryLine.id")


class DeliveryLine(Base):
    """What left one lot for one line of an order."""

    __tablename__ = "delivery_line"

    id: Mapped[Key]
    delivery_id: Mapped[int] = refers_to("delivery")
    order_line_id: Mapped[int] = refers_to("order_line")
    movement_id: Mapped[int] = mapped_column(
        ForeignKey("movement.id", ondelete="RESTRICT"), unique=True
    )


class OrderReturn(Base):
    """Journals of an order that a customer brought back, why, and what became of it.

    They came back into ``lot_id``; those that are not ``sound`` left it at once. ``replaced`` ones
    are owed to the customer again.
    """

    __tablename__ = "order_return"
    __table_args__ = (CheckConstraint("quantity > 0", name="quantity"),)

    id: Mapped[Key]
    order_line_id: Mapped[int] = refers_to("order_line")
    lot_id: Mapped[int] = refers_to("lot")
    returned_on: Mapped[date]
    quantity: Mapped[int]
    why: Mapped[str] = mapped_column(Text)
    replaced: Mapped[bool]
    sound: Mapped[bool]


class Payment(Base):
    """Money that changed hands; below zero for a refund. Never edited, only answered.

    One written down by mistake is answered by its opposite, which names it.
    """

    __tablename__ = "payment"
    __table_args__ = (
        CheckConstraint("amount <> 0", name="amount"),
        UniqueConstraint("reverses_id"),
        Index(None, "paid_on", "amount"),
    )

    id: Mapped[Key]
    order_id: Mapped[int] = refers_to("customer_order")
    receipt_number: Mapped[int] = mapped_column(unique=True)
    amount: Mapped[Decimal] = mapped_column(Money())
    paid_on: Mapped[date]
    how: Mapped[Word]
    reverses_id: Mapped[int | None] = refers_to("payment", needed=False, index=False)
    order: Mapped[Order] = relationship(back_populates="payments")
