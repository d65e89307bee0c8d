"""Recipes for what the shop makes for itself, and goods made in a batch

Revision: 0021
Follows: 0020
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def one_of(table: str, first: str, second: str) -> sa.CheckConstraint:
    terms = " + ".join(f"(CASE WHEN {c} IS NULL THEN 0 ELSE 1 END)" for c in (first, second))
    name = op.f(f"ck_{table}_exactly_one_{first}_{second}"[: len(f"ck_{table}_exactly_one_") + 30])
    return sa.CheckConstraint(f"{terms} = 1", name=name)


def refers(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], [f"{to}.id"], name=op.f(f"fk_{table}_{column}_{to}"), ondelete="RESTRICT"
    )


def upgrade() -> None:
    op.create_table(
        "recipe",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stock_sheet_id", sa.Integer()),
        sa.Column("material_id", sa.Integer()),
        sa.Column("makes", sa.BigInteger(), nullable=False),
        sa.Column("setup_minutes", sa.BigInteger(), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=False),
        sa.Column("days", sa.Integer(), nullable=False),
        sa.Column("loss", sa.BigInteger(), nullable=False),
        sa.Column("version", sa.Integer(), server_default="1", nullable=False),
        sa.CheckConstraint("makes > 0", name=op.f("ck_recipe_makes_something")),
        sa.CheckConstraint("days >= 0", name=op.f("ck_recipe_days")),
        sa.CheckConstraint("setup_minutes >= 0 AND minutes >= 0", name=op.f("ck_recipe_minutes")),
        one_of("recipe", "stock_sheet_id", "material_id"),
        refers("recipe", "stock_sheet_id", "stock_sheet"),
        refers("recipe", "material_id", "material"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe")),
        sa.UniqueConstraint("stock_sheet_id", name=op.f("uq_recipe_stock_sheet_id")),
        sa.UniqueConstraint("material_id", name=op.f("uq_recipe_material_id")),
    )
    op.create_table(
        "recipe_part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recipe_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("paper_id", sa.Integer()),
        sa.Column("material_id", sa.Integer()),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("width_nm", sa.BigInteger()),
        sa.Column("height_nm", sa.BigInteger()),
        sa.Column("grain", sa.String(length=6)),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_recipe_part_quantity")),
        sa.CheckConstraint("grain IN ('width', 'height')", name=op.f("ck_recipe_part_grain_side")),
        sa.CheckConstraint(
            "material_id IS NOT NULL OR (width_nm > 0 AND height_nm > 0)",
            name=op.f("ck_recipe_part_piece_has_area"),
        ),
        one_of("recipe_part", "paper_id", "material_id"),
        refers("recipe_part", "recipe_id", "recipe"),
        refers("recipe_part", "paper_id", "paper"),
        refers("recipe_part", "material_id", "material"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe_part")),
        sa.UniqueConstraint(
            "recipe_id", "position", name=op.f("uq_recipe_part_recipe_id_position")
        ),
    )
    op.create_table(
        "goods_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("stock_sheet_id", sa.Integer()),
        sa.Column("material_id", sa.Integer()),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("begun", sa.BigInteger(), nullable=False),
        sa.Column("expected", sa.BigInteger(), nullable=False),
        sa.Column("good", sa.BigInteger(), nullable=False),
        sa.Column("days", sa.Integer(), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("times > 0", name=op.f("ck_goods_line_times")),
        sa.CheckConstraint("expected > 0 AND good >= 0", name=op.f("ck_goods_line_outcome")),
        one_of("goods_line", "stock_sheet_id", "material_id"),
        refers("goods_line", "batch_id", "batch"),
        refers("goods_line", "stock_sheet_id", "stock_sheet"),
        refers("goods_line", "material_id", "material"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_goods_line")),
    )
    for table, columns in (
        ("recipe_part", ("recipe_id", "paper_id", "material_id")),
        ("goods_line", ("batch_id", "stock_sheet_id", "material_id")),
    ):
        for column in columns:
            op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def downgrade() -> None:
    """What was made stays in the stock; how it is made, and that it was, is forgotten."""
    op.drop_table("goods_line")
    op.drop_table("recipe_part")
    op.drop_table("recipe")
