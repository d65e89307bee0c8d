"""Where the data lies and how the program is reached, from the environment."""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from pathlib import Path

import platformdirs

SHORTEST_KEY = 32
LOOPBACK = "127.0.0.1"


@dataclass(frozen=True)
class Settings:
    """One shop's place: its data folder, database address, and the key that signs its forms."""

    folder: Path
    database_url: str
    secret_key: str

    @property
    def says_where(self) -> str:
        """The data's place in words, without any password."""
        if self.database_url.startswith("sqlite"):
            return self.database_url.removeprefix("sqlite:///")
        return self.database_url.rpartition("@")[2]


def data_folder(name: str = "tallyfold") -> Path:
    """The user's data folder; ``TALLYFOLD_DATA`` names another."""
    named = os.environ.get("TALLYFOLD_DATA")
    return Path(named) if named else Path(platformdirs.user_data_dir(name, appauthor=False))


def settings_for(folder: Path, database_url: str | None = None) -> Settings:
    """Settings for a data folder, made with a key of its own where it is new."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    file = folder / "shop.sqlite3"
    if database_url is None and not file.exists():
        # SQLite takes an empty file for a new database, and its journals take over its mode.
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT, 0o600))
    url = database_url or f"sqlite:///{file}"
    return Settings(folder, _with_driver(url), _secret_key(folder / "form.key"))


def settings_from_environment() -> Settings:
    """The shop's own settings: its folder, and ``DATABASE_URL`` where that is set."""
    return settings_for(data_folder(), os.environ.get("DATABASE_URL"))


def _with_driver(url: str) -> str:
    for prefix in ("postgres://", "postgresql://"):
        if url.startswith(prefix):
            return "postgresql+psycopg://" + url.removeprefix(prefix)
    return url


def _secret_key(path: Path) -> str:
    """Read the key, or make one that only this user can read."""
    try:
        known = path.read_text(encoding="ascii").strip()
    except FileNotFoundError:
        known = ""
    if len(known) < SHORTEST_KEY:
        # New, or cut short by a power cut: forms opened before must be opened again.
        key = secrets.token_urlsafe(48)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="ascii") as file:
            file.write(key)
        return key
    return known
