"""Runs the migrations on the connection the program hands over, or autogenerates a new one.

SQLite alters a table by making it anew. That must happen with foreign keys off, or dropping the
old table would take its children with it; they are checked again afterwards.
"""

from __future__ import annotations

from typing import Any

from alembic import context
from sqlalchemy import text

import app.models  # noqa: F401 - fills the metadata
from app.db import Base, ScaledDecimal


def _plain_types(type_: str, item: object, autogen: Any) -> str | bool:
    """Migrations stand alone: the program's own column types are written as what they store."""
    if type_ == "type" and isinstance(item, ScaledDecimal):
        return "sa.BigInteger()"
    if type_ == "type" and type(item).__name__ == "Moment":
        return "sa.DateTime(timezone=True)"
    return False


def run() -> None:
    """Upgrade or downgrade in one transaction."""
    connection = context.config.attributes["connection"]
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        render_item=_plain_types,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()
    if connection.dialect.name == "sqlite":
        broken = connection.execute(text("PRAGMA foreign_key_check")).fetchall()
        if broken:
            raise RuntimeError(f"the upgrade would leave {len(broken)} rows without their parent")


run()
