"""What a market will be like: its days and hours, what the organiser takes, guesses, what is packed

Revision: 0032
Follows: 0031
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0032"
down_revision = "0031"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("market", sa.Column("last_day", sa.Date(), nullable=True))
    op.add_column(
        "market", sa.Column("open_minutes", sa.BigInteger(), nullable=False, server_default="0")
    )
    op.add_column(
        "market", sa.Column("fee_share", sa.BigInteger(), nullable=False, server_default="0")
    )
    op.add_column(
        "market", sa.Column("home_share", sa.BigInteger(), nullable=False, server_default="200000")
    )
    with op.batch_alter_table("market") as table:
        table.add_column(sa.Column("like_id", sa.Integer(), nullable=True))
        table.create_foreign_key(
            op.f("fk_market_like_id_market"),
            "market",
            ["like_id"],
            ["id"],
            ondelete="RESTRICT",
            deferrable=True,
            initially="DEFERRED",
        )
        table.create_index(op.f("ix_market_like_id"), ["like_id"])
    op.add_column(
        "market_line", sa.Column("packed", sa.Integer(), nullable=False, server_default="0")
    )
    op.create_table(
        "market_guess",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("market_id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("low", sa.Integer(), nullable=False),
        sa.Column("likely", sa.Integer(), nullable=False),
        sa.Column("high", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "low >= 0 AND low <= likely AND likely <= high", name=op.f("ck_market_guess_rising")
        ),
        sa.ForeignKeyConstraint(
            ["market_id"], ["market.id"], name=op.f("fk_market_guess_market_id_market"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_market_guess_variant_id_variant"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_market_guess")),
        sa.UniqueConstraint(
            "market_id", "variant_id", name=op.f("uq_market_guess_market_id_variant_id")
        ),
    )  # fmt: skip
    op.create_index(op.f("ix_market_guess_market_id"), "market_guess", ["market_id"])
    op.create_index(op.f("ix_market_guess_variant_id"), "market_guess", ["variant_id"])


def downgrade() -> None:
    """Guesses, hours, and which market is like which are forgotten; what was sold stays."""
    op.drop_table("market_guess")
    op.drop_column("market_line", "packed")
    with op.batch_alter_table("market") as table:
        table.drop_index(op.f("ix_market_like_id"))
        table.drop_constraint(op.f("fk_market_like_id_market"), type_="foreignkey")
        table.drop_column("like_id")
    for name in ("home_share", "fee_share", "open_minutes", "last_day"):
        op.drop_column("market", name)
