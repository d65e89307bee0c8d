"""Which browsers may come in: admitted once by a key of one use, known by a cookie from then on.

The list lies in the data folder, not in the database: it does not travel with a backup, and
whoever restores a shop elsewhere lets nobody in by it. Only digests are kept.
"""

from __future__ import annotations

import json
import secrets
import time
from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from threading import Lock

from app.folder import write_private

ENTRY_MINUTES = 30
"""How long a key of one use is good for."""
DAYS_UNSEEN = 90
"""After which a browser has to come in anew."""
MOST_DEVICES = 50
DIGEST = 64
"""Characters of a digest."""
SEEN_EVERY = timedelta(minutes=5)
"""How often the day a browser was last seen is written down."""


def digest_of(secret: str) -> str:
    """What is kept of a secret of 256 random bits."""
    return sha256(secret.encode()).hexdigest()


def new_entry(folder: Path) -> str:
    """A key that lets one browser in, once, within half an hour; for the folder's owner."""
    entries = folder / "entries"
    entries.mkdir(mode=0o700, exist_ok=True)
    for old in entries.iterdir():
        # What another is just writing has no key's name yet.
        if len(old.name) == DIGEST and not _holds(old):
            old.unlink(missing_ok=True)
    key = secrets.token_urlsafe(32)
    write_private(entries / digest_of(key), str(time.time() + ENTRY_MINUTES * 60).encode())
    return key


def _holds(entry: Path) -> bool:
    """Whether a key is still good; one of a clock that was far ahead is not."""
    try:
        left = float(entry.read_text(encoding="ascii")) - time.time()
    except (OSError, ValueError):
        return False
    return 0 < left <= ENTRY_MINUTES * 60


def use_entry(folder: Path, key: str) -> bool:
    """Use up a key; True for whoever comes first with one that is good."""
    entry = folder / "entries" / digest_of(key)
    good = _holds(entry)
    try:
        entry.unlink()
    except FileNotFoundError:
        return False
    return good


@dataclass(frozen=True)
class Device:
    """A browser that may come in; ``number`` is what pages call it by."""

    number: int
    digest: str
    name: str
    by: str
    since: str
    seen: str

    @property
    def seen_at(self) -> datetime:
        """When it was last seen, to some minutes."""
        return datetime.fromisoformat(self.seen)

    @property
    def since_at(self) -> datetime:
        """When it was let in."""
        return datetime.fromisoformat(self.since)


class Devices:
    """All browsers that may come in, of one folder held by this program."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "devices.json"
        self._lock = Lock()
        self._known: dict[str, Device] = {}
        try:
            rows = json.loads(self._file.read_text(encoding="utf-8"))
            self._known = {row["digest"]: Device(**row) for row in rows}
        except FileNotFoundError:
            pass
        except (ValueError, TypeError, KeyError):
            # Damaged: nobody is let in by it, and everybody can come in anew.
            self._known = {}

    def admit(self, name: str, by: str) -> str:
        """Let a browser in; the secret of its cookie, told once."""
        secret, now = secrets.token_urlsafe(32), datetime.now(UTC)
        with self._lock:
            self._forget_unseen(now)
            number = max((one.number for one in self._known.values()), default=0) + 1
            at = now.isoformat()
            digest = digest_of(secret)
            self._known[digest] = Device(number, digest, name[:60], by, at, at)
            self._save()
        return secret

    def _forget_unseen(self, now: datetime) -> None:
        rows = sorted(self._known.values(), key=lambda one: one.seen, reverse=True)
        rows = [one for one in rows if now - one.seen_at < timedelta(days=DAYS_UNSEEN)]
        self._known = {one.digest: one for one in rows[: MOST_DEVICES - 1]}

    def known(self, secret: str | None) -> Device | None:
        """The browser with this cookie, where it may come in."""
        if not secret:
            return None
        now = datetime.now(UTC)
        with self._lock:
            found = self._known.get(digest_of(secret))
            if found is None or now - found.seen_at > timedelta(days=DAYS_UNSEEN):
                return None
            if abs(now - found.seen_at) > SEEN_EVERY:
                found = replace(found, seen=now.isoformat())
                self._known[found.digest] = found
                self._save()
            return found

    def all(self) -> list[Device]:
        """Those that may come in, the one last seen first."""
        with self._lock:
            rows = list(self._known.values())
        return sorted(rows, key=lambda one: (one.seen, one.number), reverse=True)

    def end(self, numbers: Collection[int | None]) -> int:
        """Let these browsers in no more; how many there were."""
        with self._lock:
            gone = [one.digest for one in self._known.values() if one.number in numbers]
            for digest in gone:
                del self._known[digest]
            self._save()
        return len(gone)

    def _save(self) -> None:
        rows = [asdict(one) for one in self._known.values()]
        write_private(self._file, json.dumps(rows, indent=1).encode())
