"""Costs that belong to no journal: rent, tools, insurance

Revision: 0035
Follows: 0034
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0035"
down_revision = "0034"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "other_cost",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("what", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("months", sa.Integer(), nullable=False, server_default="1"),
        sa.Column("note", sa.Text(), nullable=False, server_default=""),
        sa.Column("struck_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False, server_default="1"),
        sa.CheckConstraint("amount > 0", name=op.f("ck_other_cost_amount")),
        sa.CheckConstraint("months >= 1 AND months <= 120", name=op.f("ck_other_cost_months")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_other_cost")),
    )
    op.create_index(op.f("ix_other_cost_day"), "other_cost", ["day"])


def downgrade() -> None:
    op.drop_table("other_cost")
