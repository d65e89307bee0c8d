"""When something happened: now, or on a day where only that is given."""

from __future__ import annotations

from datetime import UTC, date, datetime, time


def moment_of(on: date | None = None) -> datetime:
    """Now, or the noon of another day that is written up later, where the maker sits."""
    now = datetime.now(UTC)
    if on is None or on == now.astimezone().date():
        return now
    return datetime.combine(on, time(12)).astimezone(UTC)


def by_the_clock() -> datetime:
    """The moment by the clock where the maker sits, as backups are dated."""
    return datetime.now()  # noqa: DTZ005 - the maker's own clock is meant
