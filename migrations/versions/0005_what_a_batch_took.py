"""What a batch took: its minutes, what they cost, and what the spoiled ones cost

Revision: 0005
Follows: 0004
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

COLUMNS = ("minutes", "work_cost", "spoiled_cost")


def upgrade() -> None:
    for name in COLUMNS:
        op.add_column("batch", sa.Column(name, sa.BigInteger(), nullable=True))


def downgrade() -> None:
    for name in reversed(COLUMNS):
        op.drop_column("batch", name)
