"""How the shop writes numbers: 1,234.5 or 1.234,5 or 1 234,5

Revision: 0010
Follows: 0009
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "shop", sa.Column("number_style", sa.String(40), nullable=False, server_default="point")
    )


def downgrade() -> None:
    op.drop_column("shop", "number_style")
