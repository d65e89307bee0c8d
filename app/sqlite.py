"""What SQLite needs of a program that keeps a shop in one file.

Writers take turns in the order they came: SQLite itself lets whoever asks at the right moment go
first, and an unlucky one waits for seconds. A file that is ``watched`` is looked at before every
transaction (:class:`app.folder.WatchedFile`), and its log is moved into it here alone.
"""

from __future__ import annotations

import sqlite3
from collections import deque
from contextlib import nullcontext
from pathlib import Path
from threading import Event, Lock
from typing import Any
from urllib.parse import quote

from sqlalchemy import Engine, QueuePool, create_engine, event
from sqlalchemy.engine import Connection, make_url

from app.folder import WatchedFile, address_to_read

LONGEST_WAIT = 10
"""Seconds that a writer waits for its turn."""
LONGEST_LOG = 4_000_000
"""Bytes of the log from which on it is moved into the file."""
TURN = "has its turn"
FILE = "shop_file"


class Turns:
    """One writer at a time, first come, first served."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._waiting: deque[Event] = deque()
        self._taken = False

    def take(self, seconds: float) -> bool:
        """Wait for one's turn; False where it did not come in time."""
        with self._lock:
            if not self._taken:
                self._taken = True
                return True
            mine = Event()
            self._waiting.append(mine)
        if mine.wait(seconds):
            return True
        with self._lock:
            if mine.is_set():
                return True
            self._waiting.remove(mine)
            return False

    def pass_on(self) -> None:
        """Let the next one in."""
        with self._lock:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._taken = False


class ShopFile:
    """The settings of one engine's file: whose turn it is, and whether it is still the same."""

    def __init__(self, watched: WatchedFile | None, *, reads_only: bool = False) -> None:
        self.turns = Turns()
        self.watched, self.reads_only = watched, reads_only

    def prepare(self, connection: Any, record: object) -> None:
        """Hand transactions to SQLAlchemy, keep foreign keys, survive a power cut."""
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.execute("PRAGMA busy_timeout=10000")
        if not self.reads_only:
            cursor.execute("PRAGMA journal_mode=WAL")
            cursor.execute("PRAGMA synchronous=FULL")
        if self.watched is not None:
            cursor.execute("PRAGMA wal_autocheckpoint=0")
        cursor.close()

    def begin(self, connection: Connection) -> None:
        """Take the turn and the lock before anything is written, so that none fails half way."""
        if self.watched is not None:
            self.watched.refuse_changed()
        if self.reads_only or connection.get_execution_options().get("reads_only"):
            connection.exec_driver_sql("BEGIN")
            return
        if not self.turns.take(LONGEST_WAIT):
            raise sqlite3.OperationalError("others write for too long")
        connection.info[TURN] = True
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    def commit(self, connection: Connection) -> None:
        """Write nothing into a file that is not the shop's any more."""
        if self.watched is not None and connection.info.get(TURN):
            self.watched.refuse_changed()

    def come_back(self, connection: object, record: Any) -> None:
        """The next writer's turn comes once a connection is given back."""
        if record.info.pop(TURN, False):
            if self.watched is not None:
                self.watched.written()
            self.turns.pass_on()

    def move_log(self, connection: Any, how: str) -> None:
        """Move the log into the file: what nobody reads (PASSIVE), or all of it (TRUNCATE)."""
        if not self.turns.take(LONGEST_WAIT):
            return
        try:
            with self.watched.own_writing() if self.watched is not None else nullcontext():
                connection.execute(f"PRAGMA wal_checkpoint({how})")
        finally:
            self.turns.pass_on()


def address_of(path: Path) -> str:
    """The address of a database file, whatever stands in its path."""
    return f"sqlite:///{quote(str(path))}"


def path_of(url: str) -> Path | None:
    """The file of an SQLite address; None for one in memory or for another database."""
    found = make_url(url)
    if found.get_backend_name() != "sqlite" or found.database in (None, "", ":memory:"):
        return None
    return Path(str(found.database))


def sqlite_engine(url: str, *, reads_only: bool = False, watched: bool = False) -> Engine:
    """An engine on a file or in memory; ``watched`` where this program alone writes into it."""
    path = path_of(url)
    looked_at = WatchedFile(path) if watched and path is not None else None
    file = ShopFile(looked_at, reads_only=reads_only)

    def connect() -> sqlite3.Connection:
        name = str(path) if path is not None else ":memory:"
        if reads_only and path is not None:
            name = address_to_read(path)
        return sqlite3.connect(
            name, timeout=10, check_same_thread=False, uri=name.startswith("file:")
        )

    # A file's path is handed over as it is: in an address "?" and "#" would end it.
    own = {"creator": connect} if path is not None else {}
    engine = create_engine(
        "sqlite://" if path is not None else url,
        connect_args={} if own else {"check_same_thread": False},
        execution_options={FILE: file}, poolclass=QueuePool if own else None, **own,
    )  # fmt: skip
    event.listen(engine, "connect", file.prepare)
    event.listen(engine, "begin", file.begin)
    event.listen(engine, "commit", file.commit)
    event.listen(engine, "checkin", file.come_back)
    return engine


def shop_file(engine: Engine) -> ShopFile | None:
    """The settings of an engine's file; None for another database."""
    found: ShopFile | None = engine.get_execution_options().get(FILE)
    return found


def move_log(engine: Engine, how: str = "PASSIVE") -> None:
    """Move SQLite's log into its file; another database sees to that by itself."""
    file = shop_file(engine)
    if file is None:
        return
    raw = engine.raw_connection()
    try:
        file.move_log(raw.driver_connection, how)
    finally:
        raw.close()


def move_long_log(engine: Engine) -> None:
    """Move the log once it is long: no reader has to go through all of it."""
    file = shop_file(engine)
    if file is None or file.watched is None:
        return
    log = file.watched.log
    if log.exists() and log.stat().st_size > LONGEST_LOG:
        move_log(engine)


def refuse_changed(engine: Engine) -> None:
    """Raise where the file is not what this program left: nothing may be acknowledged then."""
    file = shop_file(engine)
    if file is not None and file.watched is not None:
        file.watched.refuse_changed()
