"""Opening a shop's database: made where there is none, upgraded where it is old, else refused.

Whoever calls holds the folder (:class:`app.folder.Hold`).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DatabaseError, SQLAlchemyError
from sqlalchemy.orm import Session

from app.config import Settings
from app.core.errors import DomainError
from app.db import make_engine, session_maker, transaction
from app.folder import FolderError, files_of, refuse_unsound
from app.language import say
from app.schema import known_revision, migrate, newest_revision, revision_of
from app.services.shop.settings import prepare_shop
from app.sqlite import address_of

Fill = Callable[[Session], None]


@dataclass(frozen=True)
class Opened:
    """The schema a database had and the one it has; whether it was made just now."""

    before: str | None
    after: str | None
    made: bool = False


def engine_for(settings: Settings, *, reads_only: bool = False) -> Engine:
    """An engine on a shop's database, or a refusal where the address names none."""
    try:
        return make_engine(settings.database_url, reads_only=reads_only)
    except (SQLAlchemyError, ImportError) as error:
        raise DomainError(
            say("DATABASE_URL names no database this program can open ({why})", why=error)
        ) from None


def open_shop(
    settings: Settings,
    *,
    make: bool,
    fill: Fill | None = None,
    before_upgrade: Callable[[Engine, str], None] | None = None,
) -> Opened:
    """Bring a shop to this program's schema; with ``make`` a new one where there is none.

    ``before_upgrade`` is told the schema that an old database has before it is touched.
    """
    file = settings.file
    if file is not None and not file.exists():
        if not make:
            raise FolderError(
                say("There is no shop at {file} yet: “tallyfold serve” makes one.", file=file)
            )
        return _make_file(settings, file, fill)
    settings.keep_private()
    if file is not None:
        refuse_unsound(file)
    engine = engine_for(settings)
    try:
        return _upgrade(engine, make=make, fill=fill, before_upgrade=before_upgrade)
    except DatabaseError as error:
        raise DomainError(
            say(
                "the database at {where} cannot be used ({why}); nothing in it was changed",
                where=settings.says_where,
                why=error.orig,
            )
        ) from None
    finally:
        engine.dispose()


def _upgrade(
    engine: Engine, *, make: bool, fill: Fill | None,
    before_upgrade: Callable[[Engine, str], None] | None,
) -> Opened:  # fmt: skip
    before = revision_of(engine)
    if before is None and not make:
        raise FolderError(
            say("There is no shop in this database yet: “tallyfold serve” makes one.")
        )
    known_revision(before)
    if before is not None and before != newest_revision() and before_upgrade is not None:
        before_upgrade(engine, before)
    if before != newest_revision():
        migrate(engine)
    _prepare(engine, fill)
    return Opened(before, revision_of(engine), made=before is None)


def _prepare(engine: Engine, fill: Fill | None) -> None:
    """See that the shop is there, and what it is to be filled with at first."""
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
        if fill is not None:
            fill(session)


def _make_file(settings: Settings, file: Path, fill: Fill | None) -> Opened:
    with new_file(file) as engine:
        migrate(engine)
        _prepare(engine, fill)
    settings.keep_private()
    return Opened(None, newest_revision(), made=True)


@contextmanager
def new_file(file: Path) -> Iterator[Engine]:
    """An engine on a new database, put in its place when all went well: else nothing is there."""
    new = file.with_name(f"{file.name}.new")

    def clear() -> None:
        for left in files_of(new):
            left.unlink()

    clear()
    # SQLite takes an empty file for a new database, and its journals take over its mode.
    os.close(os.open(new, os.O_WRONLY | os.O_CREAT, 0o600))
    engine = make_engine(address_of(new))
    try:
        yield engine
        engine.dispose()
        new.replace(file)
    finally:
        engine.dispose()
        clear()
