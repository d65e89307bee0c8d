"""What the table an order came in by calls it

Revision: 0029
Follows: 0028
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0029"
down_revision = "0028"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "customer_order",
        sa.Column("their_number", sa.String(length=60), nullable=False, server_default=""),
    )
    op.create_index(op.f("ix_customer_order_their_number"), "customer_order", ["their_number"])


def downgrade() -> None:
    """Which order of a table an order was is forgotten."""
    op.drop_index(op.f("ix_customer_order_their_number"), "customer_order")
    op.drop_column("customer_order", "their_number")
