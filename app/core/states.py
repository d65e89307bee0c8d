"""What may follow what: the states of orders, batches and purchases, and the kinds of movement.

Moving back one step is allowed, since mistakes are common, and so is undoing a cancellation; a
received purchase and a made batch stay as they are. The words are those kept and shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeVar

from app.core.errors import DomainError
from app.language import say, to_say


class OrderState(StrEnum):
    """From enquiry to delivery."""

    ENQUIRY = to_say("enquiry")
    ACCEPTED = to_say("accepted")
    IN_PROGRESS = to_say("in progress")
    READY = to_say("ready")
    DELIVERED = to_say("delivered")
    DECLINED = to_say("declined")
    CANCELLED = to_say("cancelled")


class DocumentKind(StrEnum):
    """Numbered papers that a customer is given and that stay as they were written."""

    QUOTE = to_say("quote")
    INVOICE = to_say("invoice")
    CREDIT_NOTE = to_say("credit note")


class BatchState(StrEnum):
    """From the materials taken to the journals made."""

    IN_PROGRESS = to_say("in progress")
    MADE = to_say("made")
    CANCELLED = to_say("cancelled")


class PurchaseState(StrEnum):
    """From a draft to the shelf."""

    DRAFT = to_say("draft")
    SENT = to_say("sent")
    PART_RECEIVED = to_say("part received")
    RECEIVED = to_say("received")
    CANCELLED = to_say("cancelled")


class MovementKind(StrEnum):
    """Why there is more or less of a lot."""

    RECEIVED = to_say("received")
    OPENING = to_say("opening")
    ISSUED = to_say("issued")
    RETURNED = to_say("returned")
    COUNTED = to_say("counted")
    SPOILED = to_say("spoiled")
    CUT = to_say("cut")
    MADE = to_say("made")
    SOLD = to_say("sold")
    REVERSED = to_say("reversed")
    SET_ASIDE = to_say("set aside")


class PaidHow(StrEnum):
    """How a sale at a stall was paid."""

    CASH = to_say("cash")
    CARD = to_say("card")
    OTHER = to_say("other")
    GIVEN = to_say("given away")
    SWAPPED = to_say("swapped")


FOR_NOTHING = (PaidHow.GIVEN, PaidHow.SWAPPED)
"""No money changes hands, and nobody asked to buy."""


class CostKind(StrEnum):
    """What a cost that belongs to no journal is for."""

    ROOM = to_say("room and power")
    TOOLS = to_say("tools and repairs")
    INSURANCE = to_say("insurance and fees")
    SELLING = to_say("advertising and website")
    POST = to_say("post and parcels")
    TRAVEL = to_say("travel")
    LEARNING = to_say("books and courses")
    OTHER = to_say("other")


class SheetKind(StrEnum):
    """How what pieces are cut from is bought: by the sheet, off a roll, or by the hide."""

    SHEET = to_say("sheet")
    ROLL = to_say("roll")
    HIDE = to_say("hide")


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

NO_SUCH_STATE = {
    "order": to_say("There is no such state of an order."),
    "batch": to_say("There is no such state of a batch."),
    "purchase": to_say("There is no such state of a purchase."),
}
NOT_NEXT = {
    "order": to_say("This order is {now}; after that comes {onward}, not {then}."),
    "batch": to_say("This batch is {now}; after that comes {onward}, not {then}."),
    "purchase": to_say("This purchase is {now}; after that comes {onward}, not {then}."),
}
"""What is said of each kind of thing that has states."""


def check_step(table: Mapping[State, tuple[State, ...]], now: State, then: str, what: str) -> State:
    """The state ``then``; raises unless it may follow ``now``."""
    for state in table[now]:
        if state == then:
            return state
    if then not in {state.value for state in table}:
        raise DomainError(say(NO_SUCH_STATE[what]), "state")
    onward = ", ".join(say(state) for state in table[now]) or say("nothing more")
    raise DomainError(say(NOT_NEXT[what], now=say(now), onward=onward, then=say(then)), "state")
