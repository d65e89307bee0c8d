"""Pictures of finished journals, and whether one stands on labels and on quotes

Revision: 0038
Follows: 0037
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0038"
down_revision = "0037"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "variant_picture",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("file", sa.String(length=120), nullable=False),
        sa.Column("small", sa.String(length=120), nullable=False),
        sa.Column("says", sa.Text(), nullable=False, server_default=""),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_variant_picture_variant_id_variant"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_variant_picture")),
    )  # fmt: skip
    op.create_index(op.f("ix_variant_picture_variant_id"), "variant_picture", ["variant_id"])
    op.add_column(
        "label_words",
        sa.Column("shows_picture", sa.Boolean(), nullable=False, server_default=sa.false()),
    )
    op.add_column(
        "letterhead",
        sa.Column("quote_pictures", sa.Boolean(), nullable=False, server_default=sa.true()),
    )


def downgrade() -> None:
    op.drop_column("letterhead", "quote_pictures")
    op.drop_column("label_words", "shows_picture")
    op.drop_table("variant_picture")
