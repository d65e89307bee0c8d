"""Indexes for what the lists of orders ask: by state and day, and lines that say something

Revision: 0018
Follows: 0017
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

SAID = sa.text("asked_for <> ''")


def upgrade() -> None:
    op.create_index(
        op.f("ix_customer_order_state_wanted_by_number"), "customer_order",
        ["state", "wanted_by", "number"],
    )  # fmt: skip
    op.drop_index(op.f("ix_customer_order_state"), table_name="customer_order")
    op.create_index(
        "ix_order_line_said", "order_line", ["order_id"], sqlite_where=SAID, postgresql_where=SAID
    )


def downgrade() -> None:
    op.drop_index("ix_order_line_said", table_name="order_line")
    op.create_index(op.f("ix_customer_order_state"), "customer_order", ["state"])
    op.drop_index(op.f("ix_customer_order_state_wanted_by_number"), table_name="customer_order")
