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

REFUSE = "a movement is never changed or removed: reverse it"
KEEP = (
    "UPDATE lot SET left_quantity = left_quantity + NEW.quantity, "
    "left_cost = left_cost + NEW.cost WHERE id = NEW.lot_id;"
)


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
    _drop_triggers()
    with op.batch_alter_table("lot") as lot:
        lot.add_column(sa.Column("outlet_id", sa.Integer()))
        lot.create_foreign_key(
            op.f("fk_lot_outlet_id_outlet"), "outlet", ["outlet_id"], ["id"], ondelete="RESTRICT"
        )
    op.create_index(op.f("ix_lot_outlet_id"), "lot", ["outlet_id"])
    _make_triggers()


def downgrade() -> None:
    """What is at a shop is on the shelf again; what was sold there stays sold."""
    _drop_triggers()
    op.drop_index(op.f("ix_lot_outlet_id"), "lot")
    with op.batch_alter_table("lot") as lot:
        lot.drop_constraint(op.f("fk_lot_outlet_id_outlet"), type_="foreignkey")
        lot.drop_column("outlet_id")
    _make_triggers()
    for table in (
        "outlet_payment", "statement_draw", "statement_line", "statement", "outlet",
    ):  # fmt: skip
        op.drop_table(table)
    op.execute("DELETE FROM number_series WHERE name = 'statement'")


def _sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _drop_triggers() -> None:
    """SQLite makes a table anew to alter it, and the triggers on movements go with it."""
    names = ("movement_no_update", "movement_no_delete", "movement_keeps_what_is_left")
    for name in names if _sqlite() else ():
        op.execute(f"DROP TRIGGER {name}")


def _make_triggers() -> None:
    if not _sqlite():
        return
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER movement_no_{verb.lower()} BEFORE {verb} ON movement "
            f"BEGIN SELECT RAISE(ABORT, '{REFUSE}'); END"
        )
    op.execute(
        f"CREATE TRIGGER movement_keeps_what_is_left AFTER INSERT ON movement BEGIN {KEEP} END"
    )
