"""A shop from one database into another: every row, compared to the last one."""

from __future__ import annotations

import os
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DatabaseError

from app.config import Settings
from app.core.errors import DomainError
from app.db import make_engine
from app.folder import files_of
from app.schema import migrate, newest_revision, revision_of
from app.services.upkeep.opening import engine_for
from app.services.upkeep.rows_of_all import Summed, copy_all
from app.services.upkeep.whole_shop import take_in
from app.sqlite import address_of, path_of


def move_shop(settings: Settings, url: str) -> dict[str, Summed]:
    """Copy a shop into an empty database; the one it came from stays as it is.

    A file is put in its place when it is whole; in PostgreSQL all is one transaction.
    """
    source = engine_for(settings, reads_only=True)
    try:
        if revision_of(source) != newest_revision():
            raise DomainError("The shop has an older schema: run “tallyfold upgrade” first.")
        place = _NewPlace(url)
        with place as target, source.connect() as there:
            if source.dialect.name == "postgresql":
                there = there.execution_options(isolation_level="REPEATABLE READ")
            migrate(target)
            with target.connect() as here, here.begin():
                return copy_all(there, here)
    except DatabaseError as error:
        raise DomainError(f"The shop could not be moved ({error.orig}).") from None
    finally:
        source.dispose()


def import_shop(settings: Settings, file: Path) -> int:
    """Take a whole shop from open files into the place of the settings, which must be empty."""
    with _NewPlace(settings.database_url) as target:
        return take_in(file, target, settings.photos)


class _NewPlace:
    """An engine on an empty place; of a file nothing is there until all went well."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._file = path_of(url)
        self._new = self._file.with_name(f"{self._file.name}.new") if self._file else None

    def __enter__(self) -> Engine:
        if self._file is not None and self._file.exists():
            raise DomainError(f"There is a shop at {self._file} already: nothing was changed.")
        if self._new is not None:
            self._clear()
            os.close(os.open(self._new, os.O_WRONLY | os.O_CREAT, 0o600))
        self._engine = make_engine(address_of(self._new) if self._new else self._url)
        self._began = revision_of(self._engine)
        if self._began is not None:
            self._engine.dispose()
            raise DomainError("There is a shop in that database already: nothing was changed.")
        return self._engine

    def __exit__(self, kind: object, *rest: object) -> None:
        self._engine.dispose()
        if self._new is None or self._file is None:
            return
        if kind is None:
            self._new.replace(self._file)
        else:
            self._clear()

    def _clear(self) -> None:
        for left in files_of(self._new) if self._new else ():
            left.unlink()
