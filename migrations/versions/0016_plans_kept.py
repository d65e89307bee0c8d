"""Answers to cutting questions are kept under the digest of their question

Revision: 0016
Follows: 0015
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "kept_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_plan")),
        sa.UniqueConstraint("digest", name=op.f("uq_kept_plan_digest")),
    )


def downgrade() -> None:
    op.drop_table("kept_plan")
