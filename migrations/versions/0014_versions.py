"""A version on every record that two windows can change

Revision: 0014
Follows: 0013
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

TABLES = (
    "paper",
    "stock_sheet",
    "material",
    "supplier",
    "channel",
    "postage_band",
    "operation_time",
    "journal",
    "customer",
)


def upgrade() -> None:
    for table in TABLES:
        op.add_column(table, sa.Column("version", sa.Integer(), nullable=False, server_default="1"))


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_column(table, "version")
