"""What may follow what: the states of orders, batches and purchases, and the kinds of movement.

Moving back one step is allowed, since mistakes are common, and so is undoing a cancellation; a
received purchase and a made batch stay as they are. The words are those kept and shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeVar

from app.core.errors import DomainError


class OrderState(StrEnum):
    """From enquiry to delivery."""

    ENQUIRY = "enquiry"
    ACCEPTED = "accepted"
    IN_PROGRESS = "in progress"
    READY = "ready"
    DELIVERED = "delivered"
    DECLINED = "declined"
    CANCELLED = "cancelled"


class DocumentKind(StrEnum):
    """Numbered papers that a customer is given and that stay as they were written."""

    QUOTE = "quote"
    INVOICE = "invoice"
    CREDIT_NOTE = "credit note"


class BatchState(StrEnum):
    """From the materials taken to the journals made."""

    IN_PROGRESS = "in progress"
    MADE = "made"
    CANCELLED = "cancelled"


class PurchaseState(StrEnum):
    """From a draft to the shelf."""

    DRAFT = "draft"
    SENT = "sent"
    PART_RECEIVED = "part received"
    RECEIVED = "received"
    CANCELLED = "cancelled"


class MovementKind(StrEnum):
    """Why there is more or less of a lot."""

    RECEIVED = "received"
    OPENING = "opening"
    ISSUED = "issued"
    RETURNED = "returned"
    COUNTED = "counted"
    SPOILED = "spoiled"
    CUT = "cut"
    MADE = "made"
    SOLD = "sold"
    REVERSED = "reversed"
    SET_ASIDE = "set aside"


class PaidHow(StrEnum):
    """How a sale at a stall was paid."""

    CASH = "cash"
    CARD = "card"
    OTHER = "other"
    GIVEN = "given away"
    SWAPPED = "swapped"


FOR_NOTHING = (PaidHow.GIVEN, PaidHow.SWAPPED)
"""No money changes hands, and nobody asked to buy."""


class CostKind(StrEnum):
    """What a cost that belongs to no journal is for."""

    ROOM = "room and power"
    TOOLS = "tools and repairs"
    INSURANCE = "insurance and fees"
    SELLING = "advertising and website"
    POST = "post and parcels"
    TRAVEL = "travel"
    LEARNING = "books and courses"
    OTHER = "other"


class SheetKind(StrEnum):
    """How what pieces are cut from is bought: by the sheet, off a roll, or by the hide."""

    SHEET = "sheet"
    ROLL = "roll"
    HIDE = "hide"


ORDER_STATES: dict[OrderState, tuple[OrderState, ...]] = {
    OrderState.ENQUIRY: (OrderState.ACCEPTED, OrderState.DECLINED),
    OrderState.ACCEPTED: (
        OrderState.IN_PROGRESS, OrderState.READY, OrderState.ENQUIRY, OrderState.CANCELLED,
    ),
    OrderState.IN_PROGRESS: (OrderState.READY, OrderState.ACCEPTED, OrderState.CANCELLED),
    OrderState.READY: (OrderState.DELIVERED, OrderState.IN_PROGRESS, OrderState.CANCELLED),
    OrderState.DELIVERED: (OrderState.READY,),
    OrderState.DECLINED: (OrderState.ENQUIRY,),
    OrderState.CANCELLED: (OrderState.ACCEPTED,),
}  # fmt: skip
"""A declined one may be an enquiry again."""

ORDER_OPEN = (OrderState.ACCEPTED, OrderState.IN_PROGRESS, OrderState.READY)
"""Accepted and not yet delivered."""

ORDER_NOT_OVER = (OrderState.ENQUIRY, *ORDER_OPEN)
"""Asked for or accepted: neither delivered nor given up."""

ORDER_NEEDS_MAKING = (OrderState.ACCEPTED, OrderState.IN_PROGRESS)
"""States whose lines still need materials."""

BATCH_STATES: dict[BatchState, tuple[BatchState, ...]] = {
    BatchState.IN_PROGRESS: (BatchState.MADE, BatchState.CANCELLED),
    BatchState.MADE: (),
    BatchState.CANCELLED: (BatchState.IN_PROGRESS,),
}

PURCHASE_STATES: dict[PurchaseState, tuple[PurchaseState, ...]] = {
    PurchaseState.DRAFT: (PurchaseState.SENT, PurchaseState.CANCELLED),
    PurchaseState.SENT: (
        PurchaseState.PART_RECEIVED, PurchaseState.RECEIVED, PurchaseState.CANCELLED,
    ),
    PurchaseState.PART_RECEIVED: (PurchaseState.RECEIVED, PurchaseState.CANCELLED),
    PurchaseState.RECEIVED: (),
    PurchaseState.CANCELLED: (PurchaseState.DRAFT,),
}  # fmt: skip

PURCHASE_ON_ITS_WAY = (PurchaseState.SENT, PurchaseState.PART_RECEIVED)

State = TypeVar("State", bound=StrEnum)


def check_step(table: Mapping[State, tuple[State, ...]], now: State, then: str, what: str) -> State:
    """The state ``then``; raises unless it may follow ``now``."""
    for state in table[now]:
        if state == then:
            return state
    if then not in {state.value for state in table}:
        raise DomainError(
            f"There is no such state of {'an' if what == 'order' else 'a'} {what}.", "state"
        )
    onward = ", ".join(table[now]) or "nothing more"
    raise DomainError(f"This {what} is {now}; after that comes {onward}, not {then}.", "state")
