"""Tax that is put on top of prices before tax, and postage that the customer pays

Orders agreed before keep what they asked: of wholesale that was no tax. Enquiries for wholesale
are asked with the tax on top from now on, as an invoice has it.

Revision: 0025
Follows: 0024
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None

WHOLESALE = "channel_id IN (SELECT id FROM channel WHERE wholesale)"


def upgrade() -> None:
    with op.batch_alter_table("customer_order") as table:
        table.add_column(
            sa.Column("before_tax", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        table.add_column(sa.Column("postage", sa.BigInteger(), nullable=False, server_default="0"))
    op.execute(
        f"UPDATE customer_order SET before_tax = true WHERE state = 'enquiry' AND {WHOLESALE}"  # noqa: S608
    )
    op.execute(
        f"UPDATE customer_order SET tax_rate = 0 WHERE state <> 'enquiry' AND {WHOLESALE}"  # noqa: S608
    )


def downgrade() -> None:
    """Postage and tax on top are forgotten; what was paid stays."""
    with op.batch_alter_table("customer_order") as table:
        table.drop_column("postage")
        table.drop_column("before_tax")
