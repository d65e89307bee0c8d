"""Sales at a stall, and what a market came to

How many were sold is the sum of its sales: the column for it, which nothing ever filled, goes.

Revision: 0031
Follows: 0030
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0031"
down_revision = "0030"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "sale",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=True),
        sa.Column("market_id", sa.Integer(), nullable=False),
        sa.Column("till", sa.String(length=40), nullable=False),
        sa.Column("paid_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("how", sa.String(length=40), nullable=True),
        sa.Column("undone_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "(number IS NULL) = (paid_at IS NULL)", name=op.f("ck_sale_numbered_when_paid")
        ),
        sa.ForeignKeyConstraint(
            ["market_id"], ["market.id"], name=op.f("fk_sale_market_id_market"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sale")),
        sa.UniqueConstraint("number", name=op.f("uq_sale_number")),
    )
    op.create_index(op.f("ix_sale_market_id"), "sale", ["market_id"])
    not_paid = sa.text("paid_at IS NULL")
    op.create_index(
        "uq_sale_begun", "sale", ["market_id", "till"], unique=True,
        sqlite_where=not_paid, postgresql_where=not_paid,
    )  # fmt: skip
    op.create_table(
        "sale_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sale_id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("unit_price", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_sale_line_quantity")),
        sa.CheckConstraint("unit_price >= 0", name=op.f("ck_sale_line_unit_price")),
        sa.ForeignKeyConstraint(
            ["sale_id"], ["sale.id"], name=op.f("fk_sale_line_sale_id_sale"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_sale_line_variant_id_variant"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sale_line")),
        sa.UniqueConstraint("sale_id", "variant_id", name=op.f("uq_sale_line_sale_id_variant_id")),
    )  # fmt: skip
    op.create_index(op.f("ix_sale_line_sale_id"), "sale_line", ["sale_id"])
    op.create_index(op.f("ix_sale_line_variant_id"), "sale_line", ["variant_id"])
    op.create_table(
        "sale_draw",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sale_line_id", sa.Integer(), nullable=False),
        sa.Column("movement_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["sale_line_id"], ["sale_line.id"], name=op.f("fk_sale_draw_sale_line_id_sale_line"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["movement_id"], ["movement.id"], name=op.f("fk_sale_draw_movement_id_movement"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sale_draw")),
        sa.UniqueConstraint("movement_id", name=op.f("uq_sale_draw_movement_id")),
    )  # fmt: skip
    op.create_index(op.f("ix_sale_draw_sale_line_id"), "sale_draw", ["sale_line_id"])
    op.add_column("market", sa.Column("closed_on", sa.Date(), nullable=True))
    op.add_column(
        "market", sa.Column("float_cash", sa.BigInteger(), nullable=False, server_default="0")
    )
    op.add_column("market", sa.Column("cash_counted", sa.BigInteger(), nullable=True))
    op.add_column("market", sa.Column("card_fees", sa.BigInteger(), nullable=True))
    for name in ("stall_minutes", "travel_minutes"):
        op.add_column(
            "market", sa.Column(name, sa.BigInteger(), nullable=False, server_default="0")
        )
    op.drop_column("market_line", "sold")


def downgrade() -> None:
    """What was sold stays on the movements, which name their market; who paid how is forgotten."""
    op.add_column("market_line", sa.Column("sold", sa.Integer(), nullable=True))
    for name in (
        "travel_minutes", "stall_minutes", "card_fees", "cash_counted", "float_cash", "closed_on",
    ):  # fmt: skip
        op.drop_column("market", name)
    op.execute("DELETE FROM number_series WHERE name = 'sale'")
    for table in ("sale_draw", "sale_line", "sale"):
        op.drop_table(table)
