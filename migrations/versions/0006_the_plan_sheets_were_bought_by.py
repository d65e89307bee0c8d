"""The plan by which a paper's sheets were bought, so that the next one begins from it

Revision: 0006
Follows: 0005
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("paper", sa.Column("cut_plan", sa.JSON(), nullable=True))


def downgrade() -> None:
    op.drop_column("paper", "cut_plan")
