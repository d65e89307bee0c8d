"""Orders and batches called by plain words: enquiry, accepted, in progress, delivered

Revision: 0007
Follows: 0006
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

ORDERS = (
    ("asked", "enquiry"),
    ("agreed", "accepted"),
    ("in hand", "in progress"),
    ("handed over", "delivered"),
)
BATCHES = (("in hand", "in progress"),)


def _rename(table: str, old: str, new: str) -> None:
    rows = sa.table(table, sa.column("state", sa.String()))
    op.execute(rows.update().where(rows.c.state == old).values(state=new))


def upgrade() -> None:
    for old, new in ORDERS:
        _rename("customer_order", old, new)
    for old, new in BATCHES:
        _rename("batch", old, new)


def downgrade() -> None:
    for old, new in BATCHES:
        _rename("batch", new, old)
    for old, new in ORDERS:
        _rename("customer_order", new, old)
