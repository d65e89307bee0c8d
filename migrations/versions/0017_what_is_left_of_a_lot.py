"""What is left of each lot is kept by the database itself, as movements come in

Revision: 0017
Follows: 0016

Adding a million movements up took every page that asks what is in stock a second or two. Movements
are never changed, so one trigger on their coming in is enough; ``tallyfold check`` adds them up.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

KEEP = (
    "UPDATE lot SET left_quantity = left_quantity + NEW.quantity, "
    "left_cost = left_cost + NEW.cost WHERE id = NEW.lot_id;"
)
SUMS = (
    "UPDATE lot SET "
    "left_quantity = COALESCE((SELECT sum(quantity) FROM movement WHERE lot_id = lot.id), 0), "
    "left_cost = COALESCE((SELECT sum(cost) FROM movement WHERE lot_id = lot.id), 0)"
)


def upgrade() -> None:
    for name in ("left_quantity", "left_cost"):
        op.add_column("lot", sa.Column(name, sa.BigInteger(), nullable=False, server_default="0"))
    op.execute(SUMS)
    op.create_index(
        "ix_lot_open", "lot", ["stock_sheet_id", "material_id", "variant_id"],
        sqlite_where=sa.text("(left_quantity <> 0 OR left_cost <> 0)"),
        postgresql_where=sa.text("(left_quantity <> 0 OR left_cost <> 0)"),
    )  # fmt: skip
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            f"CREATE TRIGGER movement_keeps_what_is_left AFTER INSERT ON movement BEGIN {KEEP} END"
        )
        return
    op.execute(
        "CREATE FUNCTION keep_what_is_left() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN {KEEP} RETURN NEW; END $$"
    )
    op.execute(
        "CREATE TRIGGER movement_keeps_what_is_left AFTER INSERT ON movement "
        "FOR EACH ROW EXECUTE FUNCTION keep_what_is_left()"
    )


def downgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        op.execute("DROP TRIGGER movement_keeps_what_is_left")
    else:
        op.execute("DROP TRIGGER movement_keeps_what_is_left ON movement")
        op.execute("DROP FUNCTION keep_what_is_left()")
    op.drop_index("ix_lot_open", table_name="lot")
    op.drop_column("lot", "left_cost")
    op.drop_column("lot", "left_quantity")
