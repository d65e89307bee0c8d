"""What may follow what: the states of orders and purchases, as tables.

A state is a word. Moving back one step is allowed, since mistakes are common, and so is undoing a
cancellation; a received purchase and a made batch stay as they are.
"""

from __future__ import annotations

from app.core.errors import DomainError

ORDER_STATES: dict[str, tuple[str, ...]] = {
    "enquiry": ("accepted", "declined"),
    "accepted": ("in progress", "ready", "enquiry", "cancelled"),
    "in progress": ("ready", "accepted", "cancelled"),
    "ready": ("delivered", "in progress", "cancelled"),
    "delivered": ("ready",),
    "declined": ("enquiry",),
    "cancelled": ("accepted",),
}
"""From enquiry to delivery; a declined one may be an enquiry again."""

ORDER_OPEN = ("accepted", "in progress", "ready")
"""Accepted and not yet delivered."""

ORDER_NEEDS_MAKING = ("accepted", "in progress")
"""States whose lines still need materials."""

BATCH_STATES: dict[str, tuple[str, ...]] = {
    "in progress": ("made", "cancelled"),
    "made": (),
    "cancelled": ("in progress",),
}

PURCHASE_STATES: dict[str, tuple[str, ...]] = {
    "draft": ("sent", "cancelled"),
    "sent": ("part received", "received", "cancelled"),
    "part received": ("received", "cancelled"),
    "received": (),
    "cancelled": ("draft",),
}

PURCHASE_ON_ITS_WAY = ("sent", "part received")


def check_step(table: dict[str, tuple[str, ...]], now: str, then: str, what: str) -> None:
    """Raise unless ``then`` may follow ``now``."""
    if then in table[now]:
        return
    onward = ", ".join(table[now]) or "nothing more"
    raise DomainError(f"This {what} is {now}; after that comes {onward}, not {then}.", "state")
