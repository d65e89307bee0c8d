"""Which lots were valued at the weighted average when the shop left it

Revision: 0008
Follows: 0007
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """A shop that left the average has lots below zero: what was there till now is one pool."""
    op.add_column("shop", sa.Column("averaged_up_to", sa.Integer(), nullable=True))
    connection = op.get_bind()
    below = connection.execute(
        sa.text(
            "SELECT lot_id FROM movement GROUP BY lot_id "
            "HAVING SUM(cost) < 0 OR (SUM(quantity) = 0 AND SUM(cost) <> 0) LIMIT 1"
        )
    ).first()
    if below is not None:
        connection.execute(
            sa.text(
                "UPDATE shop SET averaged_up_to = (SELECT MAX(id) FROM lot) "
                "WHERE valuation = 'fifo'"
            )
        )


def downgrade() -> None:
    op.drop_column("shop", "averaged_up_to")
