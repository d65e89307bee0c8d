"""When something happened, where only its day is given."""

from __future__ import annotations

from datetime import UTC, date, datetime


def moment_of(on: date | None = None) -> datetime:
    """Now, or the noon of another day that is written up later."""
    now = datetime.now(UTC)
    if on is None or on == now.astimezone().date():
        return now
    return datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
