"""Shops that sell on commission: what is there, what they say was sold, what they paid

Revision: 0036
Follows: 0035
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0036"
down_revision = "0035"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "outlet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("channel_id", sa.Integer(), nullable=False),
        sa.Column("commission", sa.BigInteger(), nullable=False),
        sa.Column("contact", sa.Text(), nullable=False, server_default=""),
        sa.Column("note", sa.Text(), nullable=False, server_default=""),
        sa.Column("retired", sa.Boolean(), nullable=False, server_default=sa.false()),
        sa.Column("version", sa.Integer(), nullable=False, server_default="1"),
        sa.ForeignKeyConstraint(
            ["channel_id"], ["channel.id"], name=op.f("fk_outlet_channel_id_channel"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outlet")),
        sa.UniqueConstraint("name", name=op.f("uq_outlet_name")),
    )  # fmt: skip
    op.create_index(op.f("ix_outlet_channel_id"), "outlet", ["channel_id"])
    op.create_table(
        "statement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("outlet_id", sa.Integer(), nullable=False),
        sa.Column("stated_on", sa.Date(), nullable=False),
        sa.Column("commission", sa.BigInteger(), nullable=False),
        sa.Column("costs", sa.BigInteger(), nullable=False, server_default="0"),
        sa.Column("tax_rate", sa.BigInteger(), nullable=False),
        sa.Column("undone_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["outlet_id"], ["outlet.id"], name=op.f("fk_statement_outlet_id_outlet"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_statement")),
        sa.UniqueConstraint("number", name=op.f("uq_statement_number")),
    )  # fmt: skip
    op.create_index(op.f("ix_statement_outlet_id"), "statement", ["outlet_id"])
    op.create_table(
        "statement_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("statement_id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("unit_price", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_statement_line_quantity")),
        sa.CheckConstraint("unit_price >= 0", name=op.f("ck_statement_line_unit_price")),
        sa.ForeignKeyConstraint(
            ["statement_id"], ["statement.id"],
            name=op.f("fk_statement_line_statement_id_statement"), ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_statement_line_variant_id_variant"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_statement_line")),
    )  # fmt: skip
    op.create_index(op.f("ix_statement_line_statement_id"), "statement_line", ["statement_id"])
    op.create_index(op.f("ix_statement_line_variant_id"), "statement_line", ["variant_id"])
    op.create_table(
        "statement_draw",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("statement_line_id", sa.Integer(), nullable=False),
        sa.Column("movement_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["statement_line_id"], ["statement_line.id"],
            name=op.f("fk_statement_draw_statement_line_id_statement_line"), ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["movement_id"], ["movement.id"], name=op.f("fk_statement_draw_movement_id_movement"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_statement_draw")),
        sa.UniqueConstraint("movement_id", name=op.f("uq_statement_draw_movement_id")),
    )  # fmt: skip
    op.create_index(
        op.f("ix_statement_draw_statement_line_id"), "statement_draw", ["statement_line_id"]
    )
    op.create_table(
        "outlet_payment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("outlet_id", sa.Integer(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("paid_on", sa.Date(), nullable=False),
        sa.Column("how", sa.String(length=40), nullable=False),
        sa.Column("reverses_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("amount <> 0", name=op.f("ck_outlet_payment_amount")),
        sa.ForeignKeyConstraint(
            ["outlet_id"], ["outlet.id"], name=op.f("fk_outlet_payment_outlet_id_outlet"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["reverses_id"], ["outlet_payment.id"],
            name=op.f("fk_outlet_payment_reverses_id_outlet_payment"), ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outlet_payment")),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_outlet_payment_reverses_id")),
    )  # fmt: skip
    op.create_index(op.f("ix_outlet_payment_outlet_id"), "outlet_payment", ["outlet_id"])
    op.create_index(op.f("ix_outlet_payment_paid_on"), "outlet_payment", ["paid_on"])
    for table in ("lot", "movement"):
        op.execute(
            f"ALTER TABLE {table} ADD COLUMN outlet_id INTEGER "
            f"CONSTRAINT fk_{table}_outlet_id_outlet REFERENCES outlet (id) ON DELETE RESTRICT"
        )
        op.create_index(op.f(f"ix_{table}_outlet_id"), table, ["outlet_id"])


def downgrade() -> None:
    """What is at a shop is on the shelf again; what was sold there stays sold."""
    for table in ("movement", "lot"):
        op.drop_index(op.f(f"ix_{table}_outlet_id"), table)
        op.drop_column(table, "outlet_id")
    for table in (
        "outlet_payment", "statement_draw", "statement_line", "statement", "outlet",
    ):  # fmt: skip
        op.drop_table(table)
    op.execute("DELETE FROM number_series WHERE name = 'statement'")
