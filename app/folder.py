"""The data folder: for its owner alone, held by one program at a time, its database file watched.

A shop's file may be deleted, replaced or cut short by something else while it is open: SQLite
would go on writing into what nobody can find again. So its place is looked at before every
change and once more after it; then nothing is acknowledged that is not in the file at that
place. While the program runs it alone moves the log into the file
(:func:`app.sqlite.move_log`), so any other change of the file's time or size is somebody else's.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock
from typing import Any

from filelock import FileLock, Timeout

from app.core.errors import DomainError
from app.language import say, to_say

FILE = "shop.sqlite3"
BESIDE = ("", "-wal", "-shm")
"""What SQLite keeps of one database, by the ends of the files' names."""
OWNER_ONLY = 0o077
SQLITE = b"SQLite format 3\x00"
RESTORE = to_say("“tallyfold restore” puts a backup in its place and keeps what is there now.")


class FolderError(DomainError):
    """The shop's place cannot be relied on; the message says what to do."""


class Hold:
    """That a folder is this program's alone until :meth:`let_go` or the end of the program."""

    def __init__(self, folder: Path) -> None:
        self._says = folder / "held.json"
        # Whichever thread lets go of it: the demo is closed by another than opened it.
        self._lock = FileLock(folder / "held.lock", mode=0o600, thread_local=False)
        self._beside: Hold | None = None

    @classmethod
    def of(cls, folder: Path, address: str = "", file: Path | None = None) -> Hold:
        """Hold a folder, or say who does; ``address`` is where it is served.

        ``file`` is the database's, whose folder is held too where it is another.
        """
        hold = cls(folder)
        try:
            hold._lock.acquire(timeout=0)
        except Timeout:
            raise FolderError(hold._says_who()) from None
        hold.say(address)
        if file is not None and file.parent.resolve() != folder.resolve():
            try:
                hold._beside = cls.of(file.parent, address)
            except FolderError:
                hold.let_go()
                raise
        return hold

    def say(self, address: str) -> None:
        """Write down for others where the shop is served."""
        write_private(self._says, json.dumps({"pid": os.getpid(), "address": address}).encode())

    def _says_who(self) -> str:
        folder = self._says.parent
        number, address = _said(self._says)
        if not number:
            return say("The shop in {folder} is open already: close it first.", folder=folder)
        if not address:
            return say(
                "The shop in {folder} is open already, by process {number}: close it first.",
                folder=folder,
                number=number,
            )
        return say(
            "The shop in {folder} is open already, by process {number} at {address}: close it "
            "first.",
            folder=folder,
            number=number,
            address=address,
        )

    @staticmethod
    def address_of(folder: Path) -> str:
        """Where the shop in a folder is served just now; empty where it is not."""
        return _said(folder / "held.json")[1] if is_held(folder) else ""

    def let_go(self) -> None:
        """Leave the folder to others."""
        if self._beside is not None:
            self._beside.let_go()
        self._says.unlink(missing_ok=True)
        self._lock.release()


def _said(says: Path) -> tuple[int, str]:
    """The process that holds a folder and where it serves the shop; 0 where nothing is said."""
    try:
        held: dict[str, Any] = json.loads(says.read_text(encoding="utf-8"))
        return int(held["pid"]), str(held["address"])
    except (OSError, ValueError, KeyError, TypeError):
        return 0, ""


def is_held(folder: Path) -> bool:
    """Whether some program has the shop open."""
    if not (folder / "held.lock").exists():
        return False
    lock = FileLock(folder / "held.lock", mode=0o600)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    lock.release()
    return False


def write_private(path: Path, data: bytes) -> None:
    """Write a file that its owner alone can read: whole or not at all, however the program ends."""
    half = path.with_name(f"{path.name}.part")
    descriptor = os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    half.replace(path)


def keep_private(*paths: Path) -> None:
    """Take from everybody else what they may do with these files and folders, or refuse."""
    if os.name != "posix":
        return
    for path in paths:
        try:
            mode = stat.S_IMODE(path.stat().st_mode)
            if mode & OWNER_ONLY:
                path.chmod(mode & ~OWNER_ONLY)
        except FileNotFoundError:
            continue
        except PermissionError:
            raise FolderError(
                say(
                    "{file} can be read by others of this computer and belongs to somebody "
                    "else: give it to yourself (chown), or name another folder in "
                    "TALLYFOLD_DATA.",
                    file=path,
                )
            ) from None


def files_of(path: Path) -> list[Path]:
    """A database's file and what SQLite keeps beside it, where it is there."""
    return [p for p in (path.with_name(path.name + end) for end in BESIDE) if p.exists()]


def refuse_unsound(path: Path) -> None:
    """Refuse a file that is no shop, or a damaged one, with what to do; nothing is written."""
    refuse_foreign(path)
    with undisturbed(path) as file:
        wrong = damage(file, "quick_check(1)")
    if wrong:
        damaged = say("{file} is damaged ({why}).", file=path, why=wrong[0])
        raise FolderError(f"{damaged} {say(RESTORE)}")


def refuse_foreign(path: Path) -> None:
    """Refuse a file that is empty or no database."""
    if path.stat().st_size == 0:
        raise FolderError(
            say(
                "{file} is empty: a copy went wrong, or the disk was full. “tallyfold restore” "
                "puts a backup in its place and keeps what is there now; or move the file away to "
                "begin a new shop.",
                file=path,
            )
        )
    with path.open("rb") as file:
        if file.read(len(SQLITE)) != SQLITE:
            foreign = say("{file} cannot be used: it is no database of Tallyfold.", file=path)
            raise FolderError(f"{foreign} {say(RESTORE)}")


def damage(path: Path, look: str) -> list[str]:
    """What SQLite's own look through a file finds, in its words; nothing where it is sound."""
    connection = read_only(path)
    try:
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_schema")}
        if "alembic_version" not in tables and tables:
            raise FolderError(
                say("{file} is the database of another program: nothing was changed.", file=path)
            )
        found = [str(line) for (line,) in connection.execute(f"PRAGMA {look}")]
    except sqlite3.DatabaseError as error:
        return [str(error)]
    finally:
        connection.close()
    return [] if found == ["ok"] else [" ".join(line.split()) for line in found]


def log_of(path: Path) -> Path:
    """Where SQLite keeps what was written last."""
    return path.with_name(f"{path.name}-wal")


def address_to_read(path: Path) -> str:
    """The address of a database for a connection that cannot change anything, nor leave files."""
    # Where nobody has it open and there is no log, SQLite needs no file beside it to read it.
    used = log_of(path).exists() or is_held(path.parent)
    alone = "" if used else "&immutable=1"
    return f"{path.resolve().as_uri()}?mode=ro{alone}"


def read_only(path: Path) -> sqlite3.Connection:
    """A connection that cannot change anything."""
    return sqlite3.connect(address_to_read(path), uri=True, timeout=10)


@contextmanager
def undisturbed(path: Path) -> Iterator[Path]:
    """A database to look through: itself, or a copy where reading would tidy up after a crash."""
    if is_held(path.parent) or not log_of(path).exists():
        yield path
        return
    with TemporaryDirectory() as beside:
        for file in files_of(path):
            shutil.copyfile(file, Path(beside) / file.name)
        yield Path(beside) / path.name


_GONE = to_say("{file} is gone: it was moved or deleted while the shop was open.")
_ANOTHER = to_say("{file} is another file now: it was replaced while the shop was open.")
_SHORTER = to_say("{file} is shorter than it was: something else cut it while the shop was open.")
_CHANGED = to_say("{file} was changed by something else while the shop was open.")
_PUT_BACK = to_say(
    "Nothing is kept from here on. Put it back as it was and reload; or close the program, look "
    "with “tallyfold check”, and start again."
)
_LOOK = to_say(
    "Nothing is kept from here on. Close the program, look with “tallyfold check”, and start again."
)


@dataclass
class _Seen:
    device: int
    inode: int
    size: int
    changed_ns: int


class WatchedFile:
    """A database's file and its log as this program left them."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.log = log_of(path)
        self._writing = Lock()
        self._seen = self._now(path)
        self._seen_log: _Seen | None = None

    @staticmethod
    def _now(path: Path) -> _Seen | None:
        with suppress(FileNotFoundError):
            found = path.stat()
            return _Seen(found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)
        return None

    @contextmanager
    def own_writing(self) -> Iterator[None]:
        """While this program itself writes into the file; it is taken as it is after that."""
        with self._writing:
            yield
            self._seen, self._seen_log = self._now(self.path), self._now(self.log)

    def _is_as_left(self) -> bool:
        now, log, known = self._now(self.path), self._now(self.log), self._seen_log
        if known is not None and (
            log is None or (log.device, log.inode) != (known.device, known.inode)
            or log.size < known.size
        ):  # fmt: skip
            return False
        return now is not None and now == self._seen

    def written(self) -> None:
        """Take note of the log after a change: it is there from now on, and no shorter."""
        with self._writing:
            log, known = self._now(self.log), self._seen_log
            if log is not None and (
                known is None or (log.inode == known.inode and log.size >= known.size)
            ):
                self._seen_log = log

    def refuse_changed(self) -> None:
        """Raise where something else deleted, replaced or wrote into the file or its log."""
        if self._is_as_left():
            return
        with self._writing:
            # It may have been this program, which is done by now.
            if self._is_as_left():
                return
            now, seen = self._now(self.path), self._seen
        if now == seen and now is not None:
            lost = say(
                "What was written last, in {log} beside {file}, was deleted or cut by something "
                "else while the shop was open.",
                log=self.log.name,
                file=self.path,
            )
            raise FolderError(f"{lost} {say(_LOOK)} {say(RESTORE)}")
        if now is None or seen is None:
            what = _GONE
        elif (now.device, now.inode) != (seen.device, seen.inode):
            what = _ANOTHER
        elif now.size < seen.size:
            what = _SHORTER
        else:
            what = _CHANGED
        raise FolderError(f"{say(what, file=self.path)} {say(_PUT_BACK)} {say(RESTORE)}")
