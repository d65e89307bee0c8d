"""What the spine and the rows of a one-piece cover are rounded up to, kept with each design

Revision: 0015
Follows: 0014
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

COVERS = ("wrap_cover", "long_stitch")
DESIGN = sa.table(
    "design", sa.column("id", sa.Integer()), sa.column("structure", sa.String()),
    sa.column("dimensions", sa.JSON()), sa.column("frozen_at"),
)  # fmt: skip


def upgrade() -> None:
    """Half a millimetre, as it was; a design in inches that nobody was promised is in inches."""
    connection = op.get_bind()
    inches = connection.execute(sa.text("SELECT unit FROM shop")).scalar() == "in"
    rows = connection.execute(sa.select(DESIGN).where(DESIGN.c.structure.in_(COVERS))).all()
    for row in rows:
        step = "sixteenth" if inches and row.frozen_at is None else "half"
        _save(connection, row.id, {**row.dimensions, "spine_step": step})


def downgrade() -> None:
    connection = op.get_bind()
    for row in connection.execute(sa.select(DESIGN).where(DESIGN.c.structure.in_(COVERS))).all():
        rest = {key: value for key, value in row.dimensions.items() if key != "spine_step"}
        _save(connection, row.id, rest)


def _save(connection: sa.Connection, number: int, dimensions: dict[str, object]) -> None:
    connection.execute(DESIGN.update().where(DESIGN.c.id == number).values(dimensions=dimensions))
