"""Indexes for the takings of a large shop: movements by kind and market, payments by their day

Revision: 0039
Follows: 0038
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0039"
down_revision = "0038"
branch_labels = None
depends_on = None

AT_MARKET = sa.text("market_id IS NOT NULL")


def upgrade() -> None:
    op.drop_index(op.f("ix_movement_market_id"), "movement")
    op.create_index(
        "ix_movement_of_market", "movement", ["market_id"],
        sqlite_where=AT_MARKET, postgresql_where=AT_MARKET,
    )  # fmt: skip
    op.create_index("ix_movement_by_kind", "movement", ["kind", "at", "lot_id", "quantity", "cost"])
    op.create_index(op.f("ix_payment_paid_on_amount"), "payment", ["paid_on", "amount"])
    op.create_index(op.f("ix_delivery_delivered_on_order_id"), "delivery",
                    ["delivered_on", "order_id"])  # fmt: skip


def downgrade() -> None:
    op.drop_index(op.f("ix_delivery_delivered_on_order_id"), "delivery")
    op.drop_index(op.f("ix_payment_paid_on_amount"), "payment")
    op.drop_index("ix_movement_by_kind", "movement")
    op.drop_index("ix_movement_of_market", "movement")
    op.create_index(op.f("ix_movement_market_id"), "movement", ["market_id"])
