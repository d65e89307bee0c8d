"""The language that a shop speaks

Revision: 0040
Follows: 0039
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0040"
down_revision = "0039"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("shop", sa.Column("language", sa.String(40), nullable=False, server_default="en"))


def downgrade() -> None:
    op.drop_column("shop", "language")
