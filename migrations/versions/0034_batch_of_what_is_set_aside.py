"""Which batch journals that were set aside came out of, and movements by their day

Revision: 0034
Follows: 0033
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0034"
down_revision = "0033"
branch_labels = None
depends_on = None

FROM_PARENTS = """
    UPDATE lot SET batch_id = (SELECT parent.batch_id FROM lot AS parent WHERE parent.id = lot.parent_id)
    WHERE variant_id IS NOT NULL AND batch_id IS NULL AND parent_id IN (
        SELECT id FROM lot WHERE batch_id IS NOT NULL
    )
"""


def upgrade() -> None:
    connection = op.get_bind()
    # A lot that was brought back and set aside again is a child's child: until none is left.
    while connection.execute(sa.text(FROM_PARENTS)).rowcount:
        pass
    op.create_index("ix_movement_by_day", "movement", ["at", "kind", "lot_id", "quantity", "cost"])


def downgrade() -> None:
    op.drop_index("ix_movement_by_day", "movement")
    op.execute(
        "UPDATE lot SET batch_id = NULL WHERE variant_id IS NOT NULL AND parent_id IS NOT NULL"
    )
