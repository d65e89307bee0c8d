"""Buying: what ordering and keeping cost, what offcuts are worth, purchases that can go stale

Revision: 0004
Follows: 0003
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

SHOP = (
    ("offcut_worth", "500000"),
    ("order_cost", "50000"),
    ("holding_rate", "200000"),
    ("service_level", "950000"),
)


def upgrade() -> None:
    """Half for offcuts, 5.00 to place an order, a fifth a year to keep stock, 95 times in 100."""
    for name, begins in SHOP:
        op.add_column(
            "shop", sa.Column(name, sa.BigInteger(), nullable=False, server_default=begins)
        )
    op.add_column(
        "purchase", sa.Column("version", sa.Integer(), nullable=False, server_default="1")
    )


def downgrade() -> None:
    op.drop_column("purchase", "version")
    for name, _ in reversed(SHOP):
        op.drop_column("shop", name)
