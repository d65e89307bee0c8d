"""Bringing a database to this program's schema, and saying which schema it has."""

from __future__ import annotations

from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError

from app.core.errors import DomainError
from app.language import say

if TYPE_CHECKING:
    from sqlalchemy import Engine

ONE_AT_A_TIME = Lock()
MIGRATIONS = Path(__file__).resolve().parent.parent / "migrations"


def alembic_config() -> Config:
    """Alembic's settings; the connection is handed over by whoever runs a command."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config


def newest_revision() -> str:
    """The schema this program was written for."""
    return ScriptDirectory.from_config(alembic_config()).get_current_head() or ""


def revision_of(engine: Engine) -> str | None:
    """The schema a database has; None for an empty one."""
    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def known_revision(revision: str | None) -> None:
    """Refuse a schema that this program does not know: a newer one wrote it."""
    if revision is None:
        return
    try:
        ScriptDirectory.from_config(alembic_config()).get_revision(revision)
    except CommandError:
        raise DomainError(
            say(
                "This database has schema {schema}, which this version of Tallyfold does not "
                "know: it was written by a newer one. Install that version; nothing was "
                "changed.",
                schema=revision,
            )
        ) from None


def migrate(engine: Engine, target: str = "head") -> tuple[str | None, str | None]:
    """Move a database to a schema; returns the one it had and the one it has.

    A database written by a newer program is refused and left as it is.
    """
    # The library keeps what it works on in a place of its module: one after the other.
    with ONE_AT_A_TIME:
        return _migrate(engine, target)


def _migrate(engine: Engine, target: str) -> tuple[str | None, str | None]:
    before = revision_of(engine)
    config = alembic_config()
    known_revision(before)
    with engine.connect() as connection:
        sqlite = connection.dialect.name == "sqlite"
        if sqlite:
            # Outside any transaction: inside one the pragma would do nothing.
            connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        try:
            with connection.begin():
                config.attributes["connection"] = connection
                known = ScriptDirectory.from_config(config).get_revision(target)
                order = [s.revision for s in ScriptDirectory.from_config(config).walk_revisions()]
                goal = known.revision if known else None
                down = before is not None and (
                    goal is None or order.index(goal) > order.index(before)
                )
                (command.downgrade if down else command.upgrade)(config, target)
        finally:
            if sqlite:
                connection.connection.driver_connection.execute("PRAGMA foreign_keys=ON")  # type: ignore[union-attr]
    return before, revision_of(engine)
