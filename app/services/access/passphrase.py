"""The passphrase that lets a second device in: chosen by the maker, kept as an Argon2 digest.

Rules by OWASP ASVS 5.0, chapter 6, level 1: eight characters or more, none of the most common
ones, no rules of composition, compared exactly as typed, tries limited.
"""

from __future__ import annotations

import time
from collections import deque
from pathlib import Path
from threading import Lock

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerifyMismatchError
from zxcvbn.frequency_lists import FREQUENCY_LISTS

from app.core.errors import DomainError
from app.folder import write_private
from app.language import say

SHORTEST, LONGEST = 8, 200
TRIES, TRIES_OF_ALL, WITHIN = 5, 30, 15 * 60
"""Wrong ones from one address and from all, in so many seconds."""

_hasher = PasswordHasher()


def _file(folder: Path) -> Path:
    return folder / "passphrase"


def has_passphrase(folder: Path) -> bool:
    """Whether one was chosen."""
    return _file(folder).exists()


def choose(folder: Path, new: str, again: str) -> None:
    """Keep a new passphrase; whoever knew the old one has to know this one."""
    if len(new.strip()) < SHORTEST:
        raise DomainError(
            say("At least {least} characters; several words are good.", least=SHORTEST), "new"
        )
    if len(new) > LONGEST:
        raise DomainError(say("At most {most} characters.", most=LONGEST), "new")
    if new.casefold() in FREQUENCY_LISTS["passwords"]:
        raise DomainError(say("That is one of those tried first: choose another."), "new")
    if new != again:
        raise DomainError(say("This is not what stands above."), "again")
    write_private(_file(folder), _hasher.hash(new).encode("ascii"))


def fits(folder: Path, typed: str) -> bool:
    """Whether this is the passphrase, exactly as typed."""
    try:
        kept = _file(folder).read_text(encoding="ascii")
        return _hasher.verify(kept, typed[: LONGEST + 1])
    except (FileNotFoundError, VerifyMismatchError, InvalidHashError, UnicodeDecodeError):
        return False


class Tries:
    """Wrong passphrases of late: after a few from one place, or many from anywhere, one waits."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._wrong: deque[tuple[float, str]] = deque()

    def begin(self, address: str) -> int:
        """Count a try from an address before it is made; seconds to wait where it may not be.

        It counts as a wrong one until :meth:`was_right` says otherwise, so that many at one moment
        are no way round.
        """
        now = time.monotonic()
        with self._lock:
            while self._wrong and now - self._wrong[0][0] > WITHIN:
                self._wrong.popleft()
            own = [at for at, where in self._wrong if where == address]
            every = [at for at, _ in self._wrong]
            waits = [
                WITHIN - (now - rows[-most])
                for rows, most in ((own, TRIES), (every, TRIES_OF_ALL))
                if len(rows) >= most
            ]
            if not waits:
                self._wrong.append((now, address))
        return int(max(waits, default=0)) + bool(waits)

    def was_right(self, address: str) -> None:
        """Forget the wrong ones from an address whose owner is known now."""
        with self._lock:
            self._wrong = deque(row for row in self._wrong if row[1] != address)
