"""``tallyfold check``: the file by its engine, the triggers, and the books; nothing is written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from sqlalchemy import text
from sqlalchemy.engine import Connection
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from app.config import Settings
from app.core.errors import DomainError
from app.folder import FolderError, damage, refuse_foreign, undisturbed
from app.schema import known_revision, newest_revision, revision_of
from app.services.upkeep.checking import check_books
from app.services.upkeep.opening import engine_for

MOST_LINES = 20
"""Of what the engine says about one file."""
TRIGGERS = {
    "sqlite": ("movement_no_update", "movement_no_delete", "movement_keeps_what_is_left"),
    "postgresql": ("movement_no_change", "movement_keeps_what_is_left"),
}
DAMAGED = (
    "Stop using the shop, keep a copy of its folder, and restore the newest backup: "
    "“tallyfold restore” verifies it first."
)
BOOKS = (
    "Something else than this program wrote into the database, or a part of a file was lost. "
    "Compare with the newest backup; “tallyfold restore” puts it back and keeps what is there."
)


@dataclass(frozen=True)
class Finding:
    """Something that is off: where it was seen, what it is, and what to do about it."""

    where: str
    says: str
    do: str


def look_through(settings: Settings) -> list[Finding]:
    """Everything that is off; nothing where all agrees. A foreign or newer file is refused."""
    file = settings.file
    if file is None:
        return look_through_database(settings)
    refuse_foreign(file)
    with undisturbed(file) as readable:
        wrong = damage(readable, f"integrity_check({MOST_LINES})")
        found = [Finding("file", line, DAMAGED) for line in wrong]
        at = replace(settings, database_url=f"sqlite:///{readable}")
        try:
            return [*found, *look_through_database(at)]
        except DomainError:
            raise
        except Exception as error:
            # What is damaged reads as anything; and what cannot be read is damaged.
            if not found and not isinstance(error, DatabaseError):
                raise
            return found or [Finding("file", str(error.__cause__ or error), DAMAGED)]


def look_through_database(settings: Settings) -> list[Finding]:
    """What is off in the books of a database that can be read, and in what guards them."""
    engine = engine_for(settings, reads_only=True)
    try:
        _refuse_other_schema(revision_of(engine))
        with engine.connect() as connection:
            found = [Finding("database", line, DAMAGED) for line in _of_engine(connection)]
            with Session(connection) as session:
                found += [Finding("books", line, BOOKS) for line in check_books(session)]
        return found
    finally:
        engine.dispose()


def _refuse_other_schema(revision: str | None) -> None:
    known_revision(revision)
    if revision is None:
        raise FolderError("There is no shop in this database yet: “tallyfold serve” makes one.")
    if revision != newest_revision():
        raise DomainError(
            f"The database has schema {revision}, older than this program's {newest_revision()}: "
            "run “tallyfold upgrade” first, which makes a backup."
        )


def _of_engine(connection: Connection) -> Iterator[str]:
    """Foreign keys that lead nowhere, and triggers that are gone."""
    name = connection.dialect.name
    if name == "sqlite":
        for table, row, other, _ in connection.execute(text("PRAGMA foreign_key_check")):
            yield f"row {row} of {table} names a row of {other} that is not there"
        there = connection.execute(text("SELECT name FROM sqlite_schema WHERE type = 'trigger'"))
    else:
        there = connection.execute(text("SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'"))
    known = set(there.scalars())
    for trigger in TRIGGERS[name]:
        if trigger not in known:
            yield f"the trigger {trigger} is gone: movements may be changed after the fact"
