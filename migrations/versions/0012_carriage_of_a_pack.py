"""What bringing one pack costs, as a supplier says

Revision: 0012
Follows: 0011
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("offer", sa.Column("carriage", sa.BigInteger(), nullable=True))


def downgrade() -> None:
    op.drop_column("offer", "carriage")
