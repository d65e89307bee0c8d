"""Posting: bands by weight and size, and what the packing adds

Revision: 0003
Follows: 0002
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "postage_band",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("most_grams", sa.Integer(), nullable=False),
        sa.Column("long_nm", sa.BigInteger(), nullable=False),
        sa.Column("wide_nm", sa.BigInteger(), nullable=False),
        sa.Column("thick_nm", sa.BigInteger(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False, server_default=sa.false()),
        sa.CheckConstraint("most_grams > 0", name=op.f("ck_postage_band_most_grams")),
        sa.CheckConstraint("price >= 0", name=op.f("ck_postage_band_price")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_postage_band")),
        sa.UniqueConstraint("name", name=op.f("uq_postage_band_name")),
    )
    op.add_column(
        "shop", sa.Column("packing_grams", sa.Integer(), nullable=False, server_default="30")
    )
    op.add_column(
        "shop", sa.Column("packing_nm", sa.BigInteger(), nullable=False, server_default="5000000")
    )


def downgrade() -> None:
    op.drop_column("shop", "packing_nm")
    op.drop_column("shop", "packing_grams")
    op.drop_table("postage_band")
