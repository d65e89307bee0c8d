"""A shop from one database into another: every row, compared to the last one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DatabaseError

from app.config import Settings
from app.core.errors import DomainError
from app.db import make_engine
from app.language import say
from app.schema import migrate, newest_revision, revision_of
from app.services.upkeep.opening import engine_for, new_file
from app.services.upkeep.rows_of_all import Summed, copy_all
from app.services.upkeep.whole_shop import take_in
from app.sqlite import path_of


def move_shop(settings: Settings, url: str) -> dict[str, Summed]:
    """Copy a shop into an empty database; the one it came from stays as it is.

    A file is put in its place when it is whole; in PostgreSQL all is one transaction.
    """
    source = engine_for(settings, reads_only=True)
    try:
        if revision_of(source) != newest_revision():
            raise DomainError(say("The shop has an older schema: run “tallyfold upgrade” first."))
        with _empty_place(url) as target, source.connect() as there:
            if source.dialect.name == "postgresql":
                there = there.execution_options(isolation_level="REPEATABLE READ")
            migrate(target)
            with target.connect() as here, here.begin():
                return copy_all(there, here)
    except DatabaseError as error:
        raise DomainError(say("The shop could not be moved ({why}).", why=error.orig)) from None
    finally:
        source.dispose()


def import_shop(settings: Settings, file: Path) -> int:
    """Take a whole shop from open files into the place of the settings, which must be empty."""
    with _empty_place(settings.database_url) as target:
        return take_in(file, target, settings.photos)


@contextmanager
def _empty_place(url: str) -> Iterator[Engine]:
    """An engine on an empty place; of a file nothing is there until all went well."""
    file = path_of(url)
    if file is not None:
        if file.exists():
            raise DomainError(
                say("There is a shop at {file} already: nothing was changed.", file=file)
            )
        with new_file(file) as engine:
            yield engine
        return
    engine = make_engine(url)
    try:
        if revision_of(engine) is not None:
            raise DomainError(say("There is a shop in that database already: nothing was changed."))
        yield engine
    finally:
        engine.dispose()
