"""The hours that pass after an operation, pressing or drying, as each shop has them

Revision: 0009
Follows: 0008
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

OVERNIGHT = ("glue", "finish")
TWELVE_HOURS = 120_000
"""In ten-thousandths, as the column counts."""


def upgrade() -> None:
    """A shop's own minutes keep the night that every shop begins with."""
    op.add_column(
        "operation_time",
        sa.Column("waiting_hours", sa.BigInteger(), nullable=False, server_default="0"),
    )
    rows = sa.table(
        "operation_time", sa.column("operation", sa.String()), sa.column("waiting_hours")
    )
    op.execute(
        rows.update().where(rows.c.operation.in_(OVERNIGHT)).values(waiting_hours=TWELVE_HOURS)
    )


def downgrade() -> None:
    op.drop_column("operation_time", "waiting_hours")
