"""Goods off a roll, bought by length, and hides

Revision: 0022
Follows: 0021
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None

CHECKS = (
    ("kind", "kind IN ('sheet', 'roll', 'hide')"),
    ("roll_by_length", "kind <> 'roll' OR height_nm = 1"),
    (
        "hide_known",
        "kind <> 'hide' OR (hide_area IS NOT NULL AND usable IS NOT NULL AND reach_nm IS NOT NULL)",
    ),
    ("hide_above_nothing", "hide_area > 0 AND usable > 0 AND reach_nm > 0"),
)


def upgrade() -> None:
    with op.batch_alter_table("stock_sheet") as sheet:
        sheet.add_column(
            sa.Column("kind", sa.String(length=40), server_default="sheet", nullable=False)
        )
        sheet.add_column(sa.Column("hide_area", sa.BigInteger()))
        sheet.add_column(sa.Column("usable", sa.BigInteger()))
        sheet.add_column(sa.Column("reach_nm", sa.BigInteger()))
        for name, condition in CHECKS:
            sheet.create_check_constraint(op.f(f"ck_stock_sheet_{name}"), condition)


def downgrade() -> None:
    """Refused while there is a roll or a hide: counted by the sheet they would be something else."""
    kinds = sa.text("SELECT count(*) FROM stock_sheet WHERE kind <> 'sheet'")
    if op.get_bind().execute(kinds).scalar():
        raise RuntimeError("there are rolls or hides, which the version before does not know")
    with op.batch_alter_table("stock_sheet") as sheet:
        for name, _ in reversed(CHECKS):
            sheet.drop_constraint(op.f(f"ck_stock_sheet_{name}"), type_="check")
        for column in ("reach_nm", "usable", "hide_area", "kind"):
            sheet.drop_column(column)
