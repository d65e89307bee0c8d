"""When something happened: now, or on a day where only that is given."""

from __future__ import annotations

from datetime import UTC, date, datetime


def moment_of(on: date | None = None) -> datetime:
    """Now, or the noon of another day that is written up later."""
    now = datetime.now(UTC)
    if on is None or on == now.astimezone().date():
        return now
    return datetime(on.year, on.month, on.day, 12, tzinfo=UTC)


def by_the_clock() -> datetime:
    """The moment by the clock where the maker sits, as backups are dated."""
    return datetime.now()  # noqa: DTZ005 - the maker's own clock is meant
