"""Pictures of what is asked for

Revision: 0028
Follows: 0027
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0028"
down_revision = "0027"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "order_photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("file", sa.String(length=120), nullable=False),
        sa.Column("says", sa.Text(), nullable=False, server_default=""),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["order_id"], ["customer_order.id"],
            name=op.f("fk_order_photo_order_id_customer_order"), ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_photo")),
    )  # fmt: skip
    op.create_index(op.f("ix_order_photo_order_id"), "order_photo", ["order_id"])


def downgrade() -> None:
    """Which picture is of which order is forgotten; the files stay in the data folder."""
    op.drop_table("order_photo")
