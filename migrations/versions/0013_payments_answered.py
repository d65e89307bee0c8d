"""A payment written down by mistake names its opposite; a deposit may be kept

Revision: 0013
Follows: 0012
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "customer_order",
        sa.Column("deposit_kept", sa.Boolean(), nullable=False, server_default=sa.false()),
    )
    with op.batch_alter_table("payment") as payment:
        payment.add_column(sa.Column("reverses_id", sa.Integer(), nullable=True))
        payment.create_foreign_key(
            "fk_payment_reverses_id", "payment", ["reverses_id"], ["id"], ondelete="RESTRICT"
        )
        payment.create_unique_constraint("uq_payment_reverses_id", ["reverses_id"])


def downgrade() -> None:
    with op.batch_alter_table("payment") as payment:
        payment.drop_constraint("uq_payment_reverses_id", type_="unique")
        payment.drop_constraint("fk_payment_reverses_id", type_="foreignkey")
        payment.drop_column("reverses_id")
    op.drop_column("customer_order", "deposit_kept")
