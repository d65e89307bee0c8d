"""What was reckoned from the whole shop, kept until anything in it changes.

Only sums that take long and hold plain values are remembered, and only for pages that read. What
tells a change is read before a session begins to read and once more when a sum is asked for: only
where it is the same is what the session sees the shop of that moment, and the sum is kept for it.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from copy import copy
from functools import wraps
from pathlib import Path
from threading import Lock
from typing import Any, Concatenate, ParamSpec, TypeVar

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.folder import files_of
from app.language import language

MEMORY = "memory"
"""Where a session that only reads carries it, and the state of the shop before it began."""
STATE = "state before it"
KEPT = 48
Sum = TypeVar("Sum")
Asked = ParamSpec("Asked")


class Memory:
    """The latest sums of one shop, by what they are of; ``now`` counts its changes here."""

    def __init__(self, file: Path | None, now: Callable[[], str]) -> None:
        self._file, self._now, self._lock = file, now, Lock()
        self._kept: OrderedDict[Hashable, tuple[Hashable, Any]] = OrderedDict()

    def of(self, session: Session, key: Hashable, reckon: Callable[[], Sum]) -> Sum:
        """The sum that is kept, where nothing changed since; else it is made anew.

        Everybody gets a copy, and may change the list or the mapping that it is.
        """
        before, state = session.info[STATE], self.state(session)
        if state != before:
            # Somebody writes meanwhile: which of the two shops this session sees nobody can tell.
            return reckon()
        with self._lock:
            known, value = self._kept.get(key, (None, None))
        if known == state:
            found: Sum = copy(value)
            return found
        made = reckon()
        with self._lock:
            self._kept[key] = (state, made)
            self._kept.move_to_end(key)
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return copy(made)

    def carried_by(self, session: Session) -> None:
        """Let a session that has read nothing yet remember."""
        session.info[MEMORY], session.info[STATE] = self, self.state(session)

    def state(self, session: Session) -> Hashable:
        """What is another after every change, whoever made it."""
        if self._file is None:
            # The next transaction's number: of PostgreSQL, which others may write to as well.
            return self._now(), str(session.scalar(select(func.pg_current_snapshot())))
        looked = [path.stat() for path in files_of(self._file) if not path.name.endswith("-shm")]
        return self._now(), tuple((one.st_ino, one.st_size, one.st_mtime_ns) for one in looked)


def remembered(
    reckon: Callable[Concatenate[Session, Asked], Sum],
) -> Callable[Concatenate[Session, Asked], Sum]:
    """A sum of plain values by what is asked, remembered where the session carries a memory."""

    @wraps(reckon)
    def found(session: Session, /, *asked: Asked.args, **more: Asked.kwargs) -> Sum:
        memory: Memory | None = session.info.get(MEMORY)
        if memory is None:
            return reckon(session, *asked, **more)
        what = (reckon.__module__, reckon.__qualname__, language.get())
        key = (*what, asked, tuple(sorted(more.items())))
        return memory.of(session, key, lambda: reckon(session, *asked, **more))

    return found
