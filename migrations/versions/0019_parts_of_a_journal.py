"""Parts of a variant beside what its structure takes: labels, rings, ribbon, wrapping

Revision: 0019
Follows: 0018
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("per", sa.String(length=40), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("minutes >= 0", name=op.f("ck_part_minutes")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_part_quantity")),
        sa.ForeignKeyConstraint(
            ["material_id"], ["material.id"], name=op.f("fk_part_material_id_material"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_part_variant_id_variant"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("variant_id", "position", name=op.f("uq_part_variant_id_position")),
    )  # fmt: skip
    op.create_index(op.f("ix_part_variant_id"), "part", ["variant_id"])
    op.create_index(op.f("ix_part_material_id"), "part", ["material_id"])


def downgrade() -> None:
    op.drop_table("part")
