"""What was reckoned from the whole shop, kept until anything in it changes.

Only sums that take long and hold plain values are remembered, and only for pages that read. What
tells a change is read before the sum is made, so a sum is never younger than it is taken for.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.folder import files_of

MEMORY = "memory"
"""Where a session that only reads carries it."""
KEPT = 48
Sum = TypeVar("Sum")


class Memory:
    """The latest sums of one shop, by what they are of; ``now`` counts its changes here."""

    def __init__(self, file: Path | None, now: Callable[[], str]) -> None:
        self._file, self._now, self._lock = file, now, Lock()
        self._kept: OrderedDict[Hashable, tuple[Hashable, Any]] = OrderedDict()

    def of(self, session: Session, key: Hashable, reckon: Callable[[], Sum]) -> Sum:
        """The sum that is kept, where nothing changed since; else it is made anew."""
        state = self._state(session)
        with self._lock:
            known, value = self._kept.get(key, (None, None))
        if known == state:
            found: Sum = value
            return found
        made = reckon()
        with self._lock:
            self._kept[key] = (state, made)
            self._kept.move_to_end(key)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return made

    def _state(self, session: Session) -> Hashable:
        """What is another after every change, whoever made it."""
        if self._file is None:
            # The next transaction's number: of PostgreSQL, which others may write to as well.
            return self._now(), str(session.scalar(select(func.pg_current_snapshot())))
        looked = [path.stat() for path in files_of(self._file) if not path.name.endswith("-shm")]
        return self._now(), tuple((one.st_ino, one.st_size, one.st_mtime_ns) for one in looked)


def remembered(session: Session, key: Hashable, reckon: Callable[[], Sum]) -> Sum:
    """A sum of plain values, remembered where the session carries a memory."""
    memory: Memory | None = session.info.get(MEMORY)
    return reckon() if memory is None else memory.of(session, key, reckon)
