"""Why journals of a batch were spoiled

Revision: 0027
Follows: 0026
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0026"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("batch_line") as table:
        table.add_column(sa.Column("why_spoiled", sa.Text(), nullable=False, server_default=""))


def downgrade() -> None:
    """The reasons are forgotten; how many were spoiled stays."""
    with op.batch_alter_table("batch_line") as table:
        table.drop_column("why_spoiled")
