"""A batch's operations as they are planned, what is done of them, and the clock that runs

Revision: 0024
Follows: 0023
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "batch_operation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("operation", sa.String(length=40), nullable=False),
        sa.Column("label", sa.String(length=120), nullable=False),
        sa.Column("driver", sa.String(length=40), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("setups", sa.Integer(), nullable=False),
        sa.Column("planned", sa.BigInteger(), nullable=False),
        sa.Column("waiting_hours", sa.BigInteger(), nullable=False),
        sa.Column("done_at", sa.DateTime(timezone=True)),
        sa.CheckConstraint("count >= 0 AND setups >= 0", name=op.f("ck_batch_operation_count")),
        sa.CheckConstraint("planned >= 0", name=op.f("ck_batch_operation_planned")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_batch_operation_batch_id_batch"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_operation")),
        sa.UniqueConstraint(
            "batch_id", "operation", name=op.f("uq_batch_operation_batch_id_operation")
        ),
    )  # fmt: skip
    op.create_table(
        "clock",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_operation_id", sa.Integer(), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_clock_one")),
        sa.ForeignKeyConstraint(
            ["batch_operation_id"], ["batch_operation.id"],
            name=op.f("fk_clock_batch_operation_id_batch_operation"), ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clock")),
    )  # fmt: skip
    op.create_index(op.f("ix_batch_operation_batch_id"), "batch_operation", ["batch_id"])
    op.create_index(op.f("ix_clock_batch_operation_id"), "clock", ["batch_operation_id"])


def downgrade() -> None:
    """Minutes that were logged stay; which operation is done, and a clock that runs, is forgotten."""
    op.drop_table("clock")
    op.drop_table("batch_operation")
