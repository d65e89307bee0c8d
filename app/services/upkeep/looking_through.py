"""``tallyfold check``: the file by its engine, the triggers, and the books; nothing is written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

from sqlalchemy import text
from sqlalchemy.engine import Connection
from sqlalchemy.orm import Session

from app.config import Settings
from app.core.errors import DomainError
from app.db import make_engine
from app.folder import FolderError, damage, refuse_foreign, undisturbed
from app.language import say, to_say
from app.schema import known_revision, migrate, newest_revision, revision_of
from app.services.upkeep.checking import check_books
from app.services.upkeep.opening import engine_for
from app.sqlite import address_of

MOST_LINES = 20
"""Of what the engine says about one file."""
FILE, DATABASE, IN_BOOKS = to_say("file"), to_say("database"), to_say("books")
"""Where a finding was seen."""
POSTGRESQL_TRIGGERS = ("movement_no_change", "movement_keeps_what_is_left")
DAMAGED = to_say(
    "Stop using the shop, keep a copy of its folder, and restore the newest backup: "
    "“tallyfold restore” verifies it first."
)
BOOKS = to_say(
    "Something else than this program wrote into the database, or a part of a file was "
    "lost. Compare with the newest backup; “tallyfold restore” puts it back and keeps "
    "what is there."
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
        found = [Finding(FILE, line, say(DAMAGED)) for line in wrong]
        at = replace(settings, database_url=address_of(readable))
        return [*found, *look_through_database(at)]


def look_through_database(settings: Settings) -> list[Finding]:
    """What is off in the books of a database that can be opened, and in what guards them."""
    engine = engine_for(settings, reads_only=True)
    found: list[Finding] = []
    try:
        _refuse_other_schema(revision_of(engine))
        with engine.connect() as connection:
            found = [Finding(DATABASE, line, say(DAMAGED)) for line in _of_engine(connection)]
            with Session(connection) as session:
                found += [Finding(IN_BOOKS, line, say(BOOKS)) for line in check_books(session)]
    except DomainError:
        raise
    except Exception as error:
        says = " ".join(str(getattr(error, "orig", error)).split())[:200]
        what = say("something in it cannot be read ({why})", why=says)
        found.append(Finding(IN_BOOKS, what, say(DAMAGED)))
    finally:
        engine.dispose()
    return found


def _refuse_other_schema(revision: str | None) -> None:
    known_revision(revision)
    if revision is None:
        raise FolderError(
            say("There is no shop in this database yet: “tallyfold serve” makes one.")
        )
    if revision != newest_revision():
        raise DomainError(
            say(
                "The database has schema {schema}, older than this program's {newest}: run "
                "“tallyfold upgrade” first, which makes a backup.",
                schema=revision,
                newest=newest_revision(),
            )
        )


def _of_engine(connection: Connection) -> Iterator[str]:
    """Foreign keys that lead nowhere; triggers and indexes that are not those of the program."""
    if connection.dialect.name == "sqlite":
        for table, row, other, _ in connection.execute(text("PRAGMA foreign_key_check")):
            yield say(
                "row {row} of {table} names a row of {other} that is not there",
                row=row,
                table=table,
                other=other,
            )
        yield from _of_sqlite_schema(connection)
        return
    there = connection.execute(text("SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'"))
    known = set(there.scalars())
    for trigger in POSTGRESQL_TRIGGERS:
        if trigger not in known:
            yield say(
                "the trigger {trigger} is gone: movements may be changed after the fact",
                trigger=trigger,
            )


def _of_sqlite_schema(connection: Connection) -> Iterator[str]:
    """What a new shop has of triggers and indexes, beside what this one has."""
    wanted, there = _guards_of_a_new_shop(), _guards(connection)
    for name in sorted(wanted.keys() | there.keys()):
        if name not in there:
            yield say("the {thing} is gone", thing=" ".join(name))
        elif name not in wanted:
            yield say("the {thing} is none of this program's", thing=" ".join(name))
        elif there[name] != wanted[name]:
            yield say("the {thing} is not what it was", thing=" ".join(name))


@cache
def _guards_of_a_new_shop() -> dict[tuple[str, str], str]:
    new = make_engine("sqlite://")
    try:
        migrate(new)
        with new.connect() as connection:
            return _guards(connection)
    finally:
        new.dispose()


def _guards(connection: Connection) -> dict[tuple[str, str], str]:
    """Triggers and indexes by kind and name; those SQLite makes by itself left out."""
    rows = connection.execute(
        text("SELECT type, name, sql FROM sqlite_schema "
             "WHERE type IN ('trigger', 'index', 'view') AND sql IS NOT NULL "
             "AND name NOT LIKE 'sqlite_%'")
    )  # fmt: skip
    return {(kind, name): " ".join(sql.replace('"', "").split()) for kind, name, sql in rows}
