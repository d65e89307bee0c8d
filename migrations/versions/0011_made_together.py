"""How many of a design are made together; a one-off is one

Revision: 0011
Follows: 0010
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("design", sa.Column("batch_size", sa.Integer(), nullable=True))
    rows = sa.table("design", sa.column("one_off", sa.Boolean()), sa.column("batch_size"))
    op.execute(rows.update().where(rows.c.one_off.is_(True)).values(batch_size=1))


def downgrade() -> None:
    op.drop_column("design", "batch_size")
