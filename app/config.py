"""Where the data lies and how the program is reached, from the environment."""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import platformdirs
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError

from app.folder import FILE, FolderError, files_of, keep_private, write_private
from app.language import say, to_say
from app.sqlite import address_of, path_of

SHORTEST_KEY = 32
LOOPBACK = "127.0.0.1"
KEY = "form.key"
SUCH_AS = to_say("such as postgresql://user@host/name or sqlite:////folder/shop.sqlite3")


@dataclass(frozen=True)
class Settings:
    """One shop's place: its data folder, database address, and the key that signs its forms."""

    folder: Path
    database_url: str
    secret_key: str

    @property
    def says_where(self) -> str:
        """The data's place in words, without any password."""
        return str(self.file) if self.file else self.database_url.rpartition("@")[2]

    @property
    def file(self) -> Path | None:
        """The database's file; None where it is none."""
        return path_of(self.database_url)

    @property
    def photos(self) -> Path:
        """Where pictures are kept."""
        return self.folder.resolve() / "photos"

    @property
    def mark(self) -> str:
        """What tells this shop's cookies from another's on the same computer."""
        return sha256(str(self.folder.resolve()).encode()).hexdigest()[:8]

    def keep_private(self) -> None:
        """See that nobody else of the computer can read the shop, wherever its database is."""
        photos = list(self.photos.iterdir()) if self.photos.is_dir() else []
        file = self.file
        own = [self.folder, self.folder / KEY, self.photos, *photos]
        keep_private(*own, *(files_of(file) if file is not None else []))


def data_folder(name: str = "tallyfold") -> Path:
    """The user's data folder; ``TALLYFOLD_DATA`` names another."""
    named = os.environ.get("TALLYFOLD_DATA")
    folder = Path(named) if named else Path(platformdirs.user_data_dir(name, appauthor=False))
    try:
        str(folder).encode()
    except UnicodeEncodeError:
        raise FolderError(
            say("TALLYFOLD_DATA names a folder in letters that are no text.")
        ) from None
    return folder


def settings_for(folder: Path, database_url: str | None = None) -> Settings:
    """Settings for a data folder, made with a key of its own where it is new."""
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    url = with_driver(database_url) if database_url else address_of(folder / FILE)
    return Settings(folder, url, _secret_key(folder / KEY))


def settings_from_environment() -> Settings:
    """The shop's own settings: its folder, and ``DATABASE_URL`` where that is set."""
    return settings_for(data_folder(), os.environ.get("DATABASE_URL"))


def settings_that_are_there() -> Settings:
    """The same of a shop that exists; looking for one makes nothing."""
    folder, given = data_folder(), os.environ.get("DATABASE_URL")
    url = with_driver(given) if given else address_of(folder / FILE)
    file = path_of(url)
    if file is not None and not file.exists():
        raise FolderError(
            say(
                "There is no shop at {file} yet: “tallyfold serve” makes one, TALLYFOLD_DATA "
                "names another folder.",
                file=file,
            )
        )
    if given:
        return settings_for(folder, given)
    key = folder / KEY
    return Settings(folder, url, key.read_text(encoding="ascii") if key.exists() else "")


def with_driver(url: str) -> str:
    """A database's address with the driver that this program speaks to it by.

    Refused where it is none, or names a file that would be another in another folder.
    """
    for prefix in ("postgres://", "postgresql://"):
        if url.startswith(prefix):
            url = "postgresql+psycopg://" + url.removeprefix(prefix)
    try:
        kind, path = make_url(url).get_backend_name(), path_of(url)
    except (ArgumentError, NoSuchModuleError, ValueError):
        raise FolderError(
            say(
                "“{address}” is no address of a database: {such_as}.",
                address=url[:60],
                such_as=say(SUCH_AS),
            )
        ) from None
    if kind not in ("sqlite", "postgresql"):
        raise FolderError(
            say("A shop is not kept in {kind}: {such_as}.", kind=kind, such_as=say(SUCH_AS))
        )
    if kind == "sqlite" and (path is None or not path.is_absolute()):
        raise FolderError(
            say(
                "“{address}” names no file by its whole path: {such_as}.",
                address=url[:60],
                such_as=say(SUCH_AS),
            )
        )
    if path is not None and (path.is_dir() or not path.parent.is_dir()):
        raise FolderError(say("{file} is no file in a folder that is there.", file=path))
    return url


def _secret_key(path: Path) -> str:
    """Read the key, or make one that only this user can read."""
    try:
        known = path.read_text(encoding="ascii").strip()
    except FileNotFoundError:
        known = ""
    if len(known) < SHORTEST_KEY:
        # New, or cut short by a power cut: forms opened before must be opened again.
        known = secrets.token_urlsafe(48)
        write_private(path, known.encode("ascii"))
    return known
