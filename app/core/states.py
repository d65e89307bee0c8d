"""What may follow what: the states of orders and purchases, as tables.

A state is a word. Moving back one step is allowed, since slips of the finger are common; a
received purchase and a cancelled order stay as they are.
"""

from __future__ import annotations

from app.core.errors import DomainError

ORDER_STATES: dict[str, tuple[str, ...]] = {
    "asked": ("agreed", "declined"),
    "agreed": ("in hand", "ready", "asked", "cancelled"),
    "in hand": ("ready", "agreed", "cancelled"),
    "ready": ("handed over", "in hand", "cancelled"),
    "handed over": ("ready",),
    "declined": ("asked",),
    "cancelled": (),
}
"""From asking to handing over; ``declined`` may be asked again."""

ORDER_OPEN = ("agreed", "in hand", "ready")
"""Promised and not yet handed over."""

ORDER_NEEDS_MAKING = ("agreed", "in hand")
"""States whose lines still need materials."""

BATCH_STATES: dict[str, tuple[str, ...]] = {
    "in hand": ("made", "cancelled"),
    "made": (),
    "cancelled": (),
}

PURCHASE_STATES: dict[str, tuple[str, ...]] = {
    "draft": ("sent", "cancelled"),
    "sent": ("part received", "received", "cancelled"),
    "part received": ("received", "cancelled"),
    "received": (),
    "cancelled": (),
}

PURCHASE_ON_ITS_WAY = ("sent", "part received")


def check_step(table: dict[str, tuple[str, ...]], now: str, then: str, what: str) -> None:
    """Raise unless ``then`` may follow ``now``."""
    if then in table[now]:
        return
    onward = ", ".join(table[now]) or "nothing more"
    raise DomainError(f"This {what} is {now}; after that comes {onward}, not {then}.", "state")
