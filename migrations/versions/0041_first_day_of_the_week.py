"""The day on which the shop's week begins

Revision: 0041
Follows: 0040
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0041"
down_revision = "0040"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "shop", sa.Column("week_begins", sa.Integer(), nullable=False, server_default="0")
    )


def downgrade() -> None:
    op.drop_column("shop", "week_begins")
