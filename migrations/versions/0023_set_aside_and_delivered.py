"""Journals set aside for an order from lots, delivered in parts, and brought back

Revision: 0023
Follows: 0022
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

BEFORE = (
    "received", "opening", "issued", "returned", "counted", "spoiled", "cut", "made", "sold",
    "reversed",
)  # fmt: skip
REFUSE = "a movement is never changed or removed: reverse it"
KEEP = (
    "UPDATE lot SET left_quantity = left_quantity + NEW.quantity, "
    "left_cost = left_cost + NEW.cost WHERE id = NEW.lot_id;"
)
BACK = (
    "UPDATE movement SET kind = 'sold' WHERE kind = 'set aside' AND quantity < 0 "
    "AND lot_id NOT IN (SELECT id FROM lot WHERE order_line_id IS NOT NULL)",
    "UPDATE movement SET kind = 'returned' WHERE kind = 'set aside' AND quantity > 0 "
    "AND lot_id NOT IN (SELECT id FROM lot WHERE order_line_id IS NOT NULL)",
    # An order that is not ready has nothing set aside by what the version before knows.
    "INSERT INTO movement (lot_id, kind, quantity, cost, at, order_id, note) "
    "SELECT lot.parent_id, 'returned', lot.left_quantity, lot.left_cost, "
    "(SELECT max(at) FROM movement WHERE lot_id = lot.id), customer_order.id, 'put back' "
    "FROM lot JOIN order_line ON order_line.id = lot.order_line_id "
    "JOIN customer_order ON customer_order.id = order_line.order_id "
    "WHERE lot.left_quantity > 0 AND customer_order.state <> 'ready'",
    "UPDATE lot SET parent_id = (SELECT aside.parent_id FROM lot aside WHERE aside.id = lot.parent_id)"
    " WHERE parent_id IN (SELECT id FROM lot WHERE order_line_id IS NOT NULL)",
    "DELETE FROM movement WHERE reverses_id IS NOT NULL AND lot_id IN (SELECT id FROM lot WHERE order_line_id IS NOT NULL)",
    "DELETE FROM movement WHERE lot_id IN (SELECT id FROM lot WHERE order_line_id IS NOT NULL)",
    "DELETE FROM lot WHERE order_line_id IS NOT NULL",
    "UPDATE lot SET "
    "left_quantity = COALESCE((SELECT sum(quantity) FROM movement WHERE lot_id = lot.id), 0), "
    "left_cost = COALESCE((SELECT sum(cost) FROM movement WHERE lot_id = lot.id), 0)",
    "UPDATE order_line SET quantity = quantity - given_up WHERE given_up < quantity",
)  # fmt: skip


def refers(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], [f"{to}.id"], name=op.f(f"fk_{table}_{column}_{to}"), ondelete="RESTRICT"
    )


def upgrade() -> None:
    _drop_triggers()
    _kinds((*BEFORE, "set aside"))
    with op.batch_alter_table("lot") as lot:
        lot.add_column(sa.Column("order_line_id", sa.Integer()))
        lot.create_foreign_key(
            op.f("fk_lot_order_line_id_order_line"), "order_line", ["order_line_id"], ["id"],
            ondelete="RESTRICT",
        )  # fmt: skip
    op.create_index(op.f("ix_lot_order_line_id"), "lot", ["order_line_id"])
    _make_triggers()
    with op.batch_alter_table("order_line") as line:
        line.add_column(sa.Column("given_up", sa.Integer(), nullable=False, server_default="0"))
        line.create_check_constraint(
            op.f("ck_order_line_given_up"), "given_up >= 0 AND given_up <= quantity"
        )
    op.create_table(
        "delivery",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("delivered_on", sa.Date(), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        refers("delivery", "order_id", "customer_order"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery")),
    )
    op.create_table(
        "delivery_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("delivery_id", sa.Integer(), nullable=False),
        sa.Column("order_line_id", sa.Integer(), nullable=False),
        sa.Column("movement_id", sa.Integer(), nullable=False),
        refers("delivery_line", "delivery_id", "delivery"),
        refers("delivery_line", "order_line_id", "order_line"),
        refers("delivery_line", "movement_id", "movement"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery_line")),
        sa.UniqueConstraint("movement_id", name=op.f("uq_delivery_line_movement_id")),
    )
    op.create_table(
        "order_return",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_line_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("returned_on", sa.Date(), nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("replaced", sa.Boolean(), nullable=False),
        sa.Column("sound", sa.Boolean(), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_order_return_quantity")),
        refers("order_return", "order_line_id", "order_line"),
        refers("order_return", "lot_id", "lot"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_return")),
    )
    for table, column in (
        ("delivery", "order_id"), ("delivery_line", "delivery_id"),
        ("delivery_line", "order_line_id"), ("order_return", "order_line_id"),
        ("order_return", "lot_id"),
    ):  # fmt: skip
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def downgrade() -> None:
    """What is set aside left the shelf for its order, as it did before; part of one goes back."""
    for table in ("order_return", "delivery_line", "delivery"):
        op.drop_table(table)
    _drop_triggers()
    if not _sqlite():
        op.execute("ALTER TABLE movement DISABLE TRIGGER movement_no_change")
    for statement in BACK:
        op.execute(statement)
    if not _sqlite():
        op.execute("ALTER TABLE movement ENABLE TRIGGER movement_no_change")
    with op.batch_alter_table("order_line") as line:
        line.drop_constraint(op.f("ck_order_line_given_up"), type_="check")
        line.drop_column("given_up")
    op.drop_index(op.f("ix_lot_order_line_id"), "lot")
    with op.batch_alter_table("lot") as lot:
        lot.drop_constraint(op.f("fk_lot_order_line_id_order_line"), type_="foreignkey")
        lot.drop_column("order_line_id")
    _kinds(BEFORE)
    _make_triggers()


def _sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _drop_triggers() -> None:
    """SQLite makes a table anew to alter it, and the triggers on movements go with it."""
    names = ("movement_no_update", "movement_no_delete", "movement_keeps_what_is_left")
    for name in names if _sqlite() else ():
        op.execute(f"DROP TRIGGER {name}")


def _kinds(allowed: tuple[str, ...]) -> None:
    """Let movements be of these kinds."""
    words = ", ".join(f"'{kind}'" for kind in allowed)
    with op.batch_alter_table("movement") as movement:
        movement.drop_constraint(op.f("ck_movement_kind"), type_="check")
        movement.create_check_constraint(op.f("ck_movement_kind"), f"kind IN ({words})")


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
