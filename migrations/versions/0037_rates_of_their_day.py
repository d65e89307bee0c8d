"""Tax and fees as they were on the day: what was sold is not reckoned anew when settings change

Revision: 0037
Follows: 0036
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0037"
down_revision = "0036"
branch_labels = None
depends_on = None

KEPT = (
    "UPDATE sale SET tax_rate = (SELECT tax FROM shop WHERE id = 1) WHERE paid_at IS NOT NULL",
    "UPDATE market SET fee_rate = (SELECT fee_rate FROM channel WHERE channel.id = channel_id), "
    "fixed_fee = (SELECT fixed_fee FROM channel WHERE channel.id = channel_id) "
    "WHERE closed_on IS NOT NULL",
    "UPDATE customer_order SET "
    "fee_rate = (SELECT fee_rate FROM channel WHERE channel.id = channel_id), "
    "fixed_fee = (SELECT fixed_fee FROM channel WHERE channel.id = channel_id) "
    "WHERE agreed_at IS NOT NULL",
)


def upgrade() -> None:
    op.add_column("sale", sa.Column("tax_rate", sa.BigInteger(), nullable=True))
    for table in ("market", "customer_order"):
        op.add_column(table, sa.Column("fee_rate", sa.BigInteger(), nullable=True))
        op.add_column(table, sa.Column("fixed_fee", sa.BigInteger(), nullable=True))
    for statement in KEPT:
        op.execute(statement)


def downgrade() -> None:
    for table in ("customer_order", "market"):
        op.drop_column(table, "fixed_fee")
        op.drop_column(table, "fee_rate")
    op.drop_column("sale", "tax_rate")
