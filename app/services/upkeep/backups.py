"""Backups: a copy of the whole shop, taken while it is used, verified when made, kept by a rule.

Of SQLite it is the database itself, copied by SQLite's own backup; of PostgreSQL the whole shop as
open files. The pictures are in it either way. A backup is a ZIP whose ``backup.json`` says what is
in it, and nothing of the key or of who may come in.
"""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory
from zipfile import ZIP_DEFLATED, ZipFile

from sqlalchemy import Engine, text

from app.config import Settings
from app.core.errors import DomainError
from app.core.keeping import to_keep
from app.db import make_engine
from app.folder import FILE, damage, files_of, write_private
from app.language import say
from app.schema import known_revision, newest_revision, revision_of
from app.services.upkeep.looking_through import Finding, look_through_database
from app.services.upkeep.whole_shop import (
    SCHEMA,
    add_photos,
    refuse_unbounded,
    take_out,
    unpack_photos,
)
from app.sqlite import address_of

SAYS = "backup.json"
FORM = "tallyfold backup, 1"
RESTORING, READY, ASIDE = "restoring", "ready", "aside"
"""Where what is to be moved in lies, what says that it is whole, and that the old is put aside."""
UNPACKING = "unpacking-"
OPEN_FILES = "whole-shop.zip"
NAME = re.compile(r"shop_(\d{4}-\d\d-\d\d_\d{6})_([a-z0-9-]{1,40})\.zip")
STAMP = "%Y-%m-%d_%H%M%S"
BY_HAND, DAILY, BEFORE = "by-hand", "daily", "before-"
LAST_UPGRADES = 3
LARGEST_SAYING = 100_000
PART = 1_000_000


@dataclass(frozen=True)
class Backup:
    """A backup that is kept: when it was made by the clock of then, why, and how large it is.

    ``findings`` says what was off in the shop, of one just made.
    """

    file: Path
    at: datetime
    why: str
    size: int
    findings: tuple[Finding, ...] = ()


def folder_of(settings: Settings) -> Path:
    """Where a shop's backups are kept."""
    return settings.folder / "backups"


def backups(settings: Settings) -> list[Backup]:
    """Those that are kept, the newest first."""
    found = []
    folder = folder_of(settings)
    for file in folder.iterdir() if folder.is_dir() else ():
        known = NAME.fullmatch(file.name)
        if known:
            at = datetime.strptime(known[1], STAMP)  # noqa: DTZ007 - the maker's own clock
            found.append(Backup(file, at, known[2], file.stat().st_size))
    return sorted(found, key=lambda one: (one.at, one.file.name), reverse=True)


def back_up(
    settings: Settings, engine: Engine, at: datetime, why: str = BY_HAND, into: Path | None = None
) -> Backup:
    """Make a backup, verify it, and only then give it its name; ``into`` names a file elsewhere.

    Older ones that the rule does not keep go after it.
    """
    folder = folder_of(settings)
    folder.mkdir(mode=0o700, exist_ok=True)
    file = into or _free_name(folder, at, why)
    half = file.with_name(f"{file.name}.part")
    half.touch(mode=0o600)
    try:
        with TemporaryDirectory(dir=folder, prefix=UNPACKING) as beside:
            _write(settings, engine, Path(beside), half)
            try:
                findings = _verify(settings, half)
            except DomainError as error:
                raise DomainError(
                    say(
                        "No backup was made, and the older ones stay: {why} “tallyfold "
                        "check” says more.",
                        why=error.message,
                    )
                ) from None
        half.replace(file)
    finally:
        half.unlink(missing_ok=True)
    if into is None:
        _let_old_go(settings)
    return Backup(file, at, why, file.stat().st_size, findings)


def _free_name(folder: Path, at: datetime, why: str) -> Path:
    while (file := folder / f"shop_{at.strftime(STAMP)}_{why}.zip").exists():
        at += timedelta(seconds=1)
    return file


def _write(settings: Settings, engine: Engine, beside: Path, out: Path) -> None:
    """The database as it is at one moment, and the pictures."""
    sqlite = engine.dialect.name == "sqlite"
    copy = beside / (FILE if sqlite else OPEN_FILES)
    copy.touch(mode=0o600)
    if sqlite:
        _copy_sqlite(engine, copy)
    else:
        with copy.open("wb") as file:
            take_out(engine, Path("no pictures: they go beside it"), file)
    says = {
        "form": FORM, "program": version("tallyfold"),
        "schema": revision_of(engine), "database": copy.name, "sha256": _digest(copy),
    }  # fmt: skip
    with ZipFile(out, "w", ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr(SAYS, json.dumps(says, indent=1))
        archive.write(copy, copy.name)
        add_photos(archive, settings.photos)


def _copy_sqlite(engine: Engine, copy: Path) -> None:
    """SQLite's own backup: a picture of one moment, whoever writes meanwhile."""
    raw = engine.raw_connection()
    try:
        target = sqlite3.connect(copy)
        try:
            raw.driver_connection.backup(target)  # type: ignore[union-attr]
            # Whoever unpacks it finds one file that is whole by itself.
            target.execute("PRAGMA journal_mode=DELETE")
        finally:
            target.close()
    finally:
        raw.close()


def _digest(file: Path) -> str:
    digest = sha256()
    with file.open("rb") as stream:
        while part := stream.read(PART):
            digest.update(part)
    return digest.hexdigest()


def _verify(settings: Settings, file: Path) -> tuple[Finding, ...]:
    """Open what was written as a restore would, and the shop in it as the program would."""
    with unpacked(file, folder_of(settings)) as (place, says):
        if says["database"] != FILE or says["schema"] != newest_revision():
            return ()
        found = replace(settings, database_url=address_of(place / FILE))
        return tuple(look_through_database(found))


@contextmanager
def unpacked(file: Path, within: Path) -> Iterator[tuple[Path, dict[str, str]]]:
    """A backup's files in a folder that goes again, verified, with what the backup says of itself.

    A file that is no backup, is damaged, or is of a newer program is refused.
    """
    with TemporaryDirectory(dir=within, prefix=UNPACKING) as beside:
        place = Path(beside)
        try:
            says = _unpack(file, place)
        except DomainError:
            raise
        except Exception as error:
            raise DomainError(
                say(
                    "{file} is damaged, or no backup of a shop ({why}).",
                    file=file.name,
                    why=type(error).__name__,
                )
            ) from None
        yield place, says


def _unpack(file: Path, place: Path) -> dict[str, str]:
    with ZipFile(file) as archive:
        says = _says(archive, file)
        refuse_unbounded(archive)
        database = place / says["database"]
        database.touch(mode=0o600)
        with archive.open(says["database"]) as source, database.open("wb") as out:
            while part := source.read(PART):
                out.write(part)
        unpack_photos(archive, place / "photos")
    if _digest(database) != says["sha256"]:
        raise DomainError(
            say("{file} is damaged: its database is not what was backed up.", file=file.name)
        )
    known_revision(says["schema"])
    if database.name == FILE:
        _sound(file, database, says["schema"])
    return says


def _sound(file: Path, database: Path, schema: str) -> None:
    """Refuse a database that is damaged, of another schema than is said, or no shop."""
    if not database.stat().st_size or (wrong := damage(database, "integrity_check(1)")):
        found = wrong[0] if database.stat().st_size else say("it is empty")
        raise DomainError(
            say("{file} holds a damaged database ({why}).", file=file.name, why=found)
        )
    engine = make_engine(address_of(database), reads_only=True)
    try:
        if revision_of(engine) != schema:
            raise DomainError(say("{file} is of another schema than it says.", file=file.name))
        with engine.connect() as connection:
            if connection.scalar(text("SELECT count(*) FROM shop WHERE id = 1")) != 1:
                raise DomainError(say("{file} holds no shop.", file=file.name))
    finally:
        engine.dispose()


def _says(archive: ZipFile, file: Path) -> dict[str, str]:
    try:
        if archive.getinfo(SAYS).file_size > LARGEST_SAYING:
            raise ValueError
        says = json.loads(archive.read(SAYS))
        names = says["database"], says["schema"], says["sha256"], says["form"]
    except (KeyError, ValueError, TypeError):
        raise DomainError(
            say(
                "{file} is no backup of a shop. What “tallyfold export” wrote is taken in by "
                "“tallyfold import”.",
                file=file.name,
            )
        ) from None
    fits = all(isinstance(name, str) for name in names) and names[3] == FORM
    if not fits or names[0] not in (FILE, OPEN_FILES) or not SCHEMA.fullmatch(names[1]):
        raise DomainError(
            say("{file} is no backup that this version of Tallyfold can read.", file=file.name)
        )
    return dict(zip(("database", "schema", "sha256", "form"), names, strict=True))


def _let_old_go(settings: Settings) -> None:
    """Remove what the rule does not keep; what was made before the last upgrades stays."""
    every = backups(settings)
    kept = to_keep([one.at for one in every])
    upgrades = [one.at for one in every if one.why.startswith(BEFORE)]
    kept.update(upgrades[:LAST_UPGRADES])
    for one in every:
        if one.at not in kept:
            one.file.unlink(missing_ok=True)


def due(settings: Settings, at: datetime) -> bool:
    """Whether there is none yet of this day."""
    return all(one.at.date() != at.date() for one in backups(settings))


def before_upgrade(settings: Settings, at: datetime) -> Callable[[Engine, str], None]:
    """What an upgrade does first: a backup of the database as it is."""

    def keep(engine: Engine, schema: str) -> None:
        # Of PostgreSQL rows are read at this program's schema alone; its own tools copy the rest.
        if engine.dialect.name == "sqlite":
            back_up(settings, engine, at, f"{BEFORE}{newest_revision()}-from-{schema}")

    return keep


@dataclass(frozen=True)
class Restored:
    """What was put back: the schema it had, where what was there lies now, and what is off."""

    schema: str
    replaced: Path | None
    findings: list[Finding]


def restore(settings: Settings, file: Path, at: datetime) -> Restored:
    """Put a backup in the place of the shop; what was there is kept beside it.

    The folder must be held. A half restored shop is never in its place: files are unpacked beside
    it, verified, and moved in at the end.
    """
    target = settings.file
    if target is None or target.parent.resolve() != settings.folder.resolve():
        raise DomainError(
            say(
                "A backup is restored into a data folder: unset DATABASE_URL, restore, and "
                "move the shop to PostgreSQL with “tallyfold move” after."
            )
        )
    finish_restore(settings)
    with unpacked(file, settings.folder) as (place, says):
        if says["database"] != FILE:
            raise DomainError(
                say(
                    "{file} was made of a shop in PostgreSQL: unpack {inside} from it and "
                    "take that in with “tallyfold import”.",
                    file=file.name,
                    inside=OPEN_FILES,
                )
            )
        found = replace(settings, database_url=address_of(place / FILE))
        schema = says["schema"]
        findings = look_through_database(found) if schema == newest_revision() else []
        aside = _free_folder(settings, at)
        write_private(place / READY, aside.name.encode())
        # From here on it is certain: killed on the way, the next start does the rest.
        (settings.folder / RESTORING).mkdir(mode=0o700)
        for one in sorted(place.iterdir(), key=lambda one: one.name == READY):
            one.replace(settings.folder / RESTORING / one.name)
    replaced = finish_restore(settings)
    settings.keep_private()
    return Restored(schema, replaced, findings)


def _free_folder(settings: Settings, at: datetime) -> Path:
    number = 0
    while (aside := settings.folder / f"replaced_{at.strftime(STAMP)}_{number}").exists():
        number += 1
    return aside


def finish_restore(settings: Settings) -> Path | None:
    """Do what is left of a restore; where what was there lies now, None where nothing was.

    The folder must be held. One that was killed before it was certain is forgotten. What is in
    the shop's place is put aside first, one file after another, then the new is moved in: begun
    again at any point, each file ends where it belongs.
    """
    clear_leftovers(settings)
    place = settings.folder / RESTORING
    if not (place / READY).exists():
        if place.is_dir():
            shutil.rmtree(place)
        return None
    aside = settings.folder / (place / READY).read_text(encoding="utf-8")
    if not (place / ASIDE).exists():
        for one in (*files_of(settings.folder / FILE), settings.photos):
            if one.exists():
                aside.mkdir(mode=0o700, exist_ok=True)
                one.replace(aside / one.name)
        (place / ASIDE).touch()
    for name in ("photos", FILE):
        if (place / name).exists():
            (place / name).replace(settings.folder / name)
    shutil.rmtree(place)
    return aside if aside.exists() else None


def clear_leftovers(settings: Settings) -> None:
    """Remove what a backup or a restore that was killed left half done."""
    for folder in (settings.folder, folder_of(settings)):
        for left in folder.glob(f"{UNPACKING}*") if folder.is_dir() else ():
            shutil.rmtree(left, ignore_errors=True)
    for half in folder_of(settings).glob("shop_*.zip.part"):
        half.unlink(missing_ok=True)
