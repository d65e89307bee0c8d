"""The whole shop

Revision: 0001
Follows:
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


REFUSE = "a movement is never changed or removed: reverse it"


def keep_movements() -> None:
    """Let the database itself refuse to alter or remove a movement."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER movement_no_{verb.lower()} BEFORE {verb} ON movement "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSE}'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION movement_is_kept() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSE}'; END $$"
    )
    op.execute(
        "CREATE TRIGGER movement_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON movement "
        "FOR EACH STATEMENT EXECUTE FUNCTION movement_is_kept()"
    )


def upgrade() -> None:
    op.create_table(
        "batch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("state", sa.String(length=40), nullable=False),
        sa.Column("wanted_by", sa.Date(), nullable=True),
        sa.Column("cut_plan", sa.JSON(), nullable=True),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sa.UniqueConstraint("number", name=op.f("uq_batch_number")),
    )
    op.create_table(
        "channel",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("fee_rate", sa.BigInteger(), nullable=False),
        sa.Column("fixed_fee", sa.BigInteger(), nullable=False),
        sa.Column("margin", sa.BigInteger(), nullable=False),
        sa.Column("price_point", sa.String(length=40), nullable=False),
        sa.Column("wholesale", sa.Boolean(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_channel")),
        sa.UniqueConstraint("name", name=op.f("uq_channel_name")),
    )
    op.create_table(
        "customer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("email", sa.String(length=120), nullable=False),
        sa.Column("phone", sa.String(length=120), nullable=False),
        sa.Column("address", sa.Text(), server_default="", nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("erased_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_customer")),
    )
    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_customer_name"), ["name"], unique=False)

    op.create_table(
        "deed",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("led_to", sa.String(length=200), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_deed")),
    )
    op.create_table(
        "journal",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_journal")),
        sa.UniqueConstraint("name", name=op.f("uq_journal_name")),
    )
    op.create_table(
        "material",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("measure", sa.String(length=40), nullable=False),
        sa.Column("waste", sa.BigInteger(), nullable=False),
        sa.Column("weight_mg", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "measure IN ('length', 'count', 'mass', 'volume')", name=op.f("ck_material_measure")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_material")),
        sa.UniqueConstraint("name", name=op.f("uq_material_name")),
    )
    op.create_table(
        "number_series",
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("next_number", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_number_series")),
    )
    op.create_table(
        "operation_time",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("operation", sa.String(length=40), nullable=False),
        sa.Column("setup_minutes", sa.BigInteger(), nullable=False),
        sa.Column("minutes_each", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operation_time")),
        sa.UniqueConstraint("operation", name=op.f("uq_operation_time_operation")),
    )
    op.create_table(
        "paper",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("grammage", sa.BigInteger(), nullable=False),
        sa.Column("caliper_nm", sa.BigInteger(), nullable=False),
        sa.Column("colour", sa.String(length=120), nullable=False),
        sa.Column("finish", sa.String(length=120), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_paper")),
        sa.UniqueConstraint("name", name=op.f("uq_paper_name")),
    )
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("unit", sa.String(length=2), nullable=False),
        sa.Column("pay_per_hour", sa.BigInteger(), nullable=False),
        sa.Column("overhead_a_year", sa.BigInteger(), nullable=False),
        sa.Column("bench_hours_a_year", sa.Integer(), nullable=False),
        sa.Column("allowance", sa.BigInteger(), nullable=False),
        sa.Column("spoilage", sa.BigInteger(), nullable=False),
        sa.Column("tax", sa.BigInteger(), nullable=False),
        sa.Column("kerf_nm", sa.BigInteger(), nullable=False),
        sa.Column("batch_size", sa.Integer(), nullable=False),
        sa.Column("valuation", sa.String(length=40), nullable=False),
        sa.Column("print_paper", sa.String(length=40), nullable=False),
        sa.Column("monday", sa.Integer(), nullable=False),
        sa.Column("tuesday", sa.Integer(), nullable=False),
        sa.Column("wednesday", sa.Integer(), nullable=False),
        sa.Column("thursday", sa.Integer(), nullable=False),
        sa.Column("friday", sa.Integer(), nullable=False),
        sa.Column("saturday", sa.Integer(), nullable=False),
        sa.Column("sunday", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_shop_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "supplier",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("reach", sa.String(length=120), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier")),
        sa.UniqueConstraint("name", name=op.f("uq_supplier_name")),
    )
    op.create_table(
        "customer_order",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column("channel_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=40), nullable=False),
        sa.Column("logged_on", sa.Date(), nullable=False),
        sa.Column("wanted_by", sa.Date(), nullable=False),
        sa.Column("agreed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("tax_rate", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["channel_id"],
            ["channel.id"],
            name=op.f("fk_customer_order_channel_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["customer_id"],
            ["customer.id"],
            name=op.f("fk_customer_order_customer_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_customer_order")),
        sa.UniqueConstraint("number", name=op.f("uq_customer_order_number")),
    )
    with op.batch_alter_table("customer_order", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_customer_order_channel_id"), ["channel_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_customer_order_customer_id"), ["customer_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_customer_order_state"), ["state"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_customer_order_wanted_by"), ["wanted_by"], unique=False
        )

    op.create_table(
        "design",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("journal_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("structure", sa.String(length=40), nullable=False),
        sa.Column("dimensions", sa.JSON(), nullable=False),
        sa.Column("one_off", sa.Boolean(), nullable=False),
        sa.Column("frozen_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["journal_id"], ["journal.id"], name=op.f("fk_design_journal_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_design")),
        sa.UniqueConstraint("journal_id", "number", name=op.f("uq_design_journal_id_number")),
    )
    with op.batch_alter_table("design", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_design_journal_id"), ["journal_id"], unique=False)

    op.create_table(
        "logged_minutes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("operation", sa.String(length=40), nullable=False),
        sa.Column("minutes", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_logged_minutes_batch_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_logged_minutes")),
    )
    with op.batch_alter_table("logged_minutes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_logged_minutes_batch_id"), ["batch_id"], unique=False)

    op.create_table(
        "market",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("place", sa.String(length=120), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("channel_id", sa.Integer(), nullable=False),
        sa.Column("stall_fee", sa.BigInteger(), nullable=False),
        sa.Column("travel", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["channel_id"], ["channel.id"], name=op.f("fk_market_channel_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_market")),
    )
    with op.batch_alter_table("market", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_market_channel_id"), ["channel_id"], unique=False)

    op.create_table(
        "purchase",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=40), nullable=False),
        sa.Column("sent_on", sa.Date(), nullable=True),
        sa.Column("expected_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.ForeignKeyConstraint(
            ["supplier_id"],
            ["supplier.id"],
            name=op.f("fk_purchase_supplier_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase")),
        sa.UniqueConstraint("number", name=op.f("uq_purchase_number")),
    )
    with op.batch_alter_table("purchase", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_purchase_supplier_id"), ["supplier_id"], unique=False)

    op.create_table(
        "stock_sheet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("paper_id", sa.Integer(), nullable=False),
        sa.Column("width_nm", sa.BigInteger(), nullable=False),
        sa.Column("height_nm", sa.BigInteger(), nullable=False),
        sa.Column("grain", sa.String(length=6), nullable=True),
        sa.Column("pattern_up", sa.Boolean(), nullable=False),
        sa.Column("trim_nm", sa.BigInteger(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.CheckConstraint("grain IN ('width', 'height')", name=op.f("ck_stock_sheet_grain_side")),
        sa.CheckConstraint("width_nm > 0 AND height_nm > 0", name=op.f("ck_stock_sheet_has_area")),
        sa.ForeignKeyConstraint(
            ["paper_id"], ["paper.id"], name=op.f("fk_stock_sheet_paper_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_sheet")),
        sa.UniqueConstraint(
            "paper_id",
            "width_nm",
            "height_nm",
            "grain",
            name=op.f("uq_stock_sheet_paper_id_width_nm_height_nm_grain"),
        ),
    )
    with op.batch_alter_table("stock_sheet", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_sheet_paper_id"), ["paper_id"], unique=False)

    op.create_table(
        "offer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        sa.Column("stock_sheet_id", sa.Integer(), nullable=True),
        sa.Column("material_id", sa.Integer(), nullable=True),
        sa.Column("pack_quantity", sa.BigInteger(), nullable=False),
        sa.Column("lead_days", sa.Integer(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.CheckConstraint(
            "(CASE WHEN stock_sheet_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN material_id IS NULL THEN 0 ELSE 1 END) = 1",
            name=op.f("ck_offer_exactly_one_stock_sheet_id_material_id"),
        ),
        sa.CheckConstraint("lead_days >= 0", name=op.f("ck_offer_lead_days")),
        sa.CheckConstraint("pack_quantity > 0", name=op.f("ck_offer_pack_holds_something")),
        sa.ForeignKeyConstraint(
            ["material_id"], ["material.id"], name=op.f("fk_offer_material_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["stock_sheet_id"],
            ["stock_sheet.id"],
            name=op.f("fk_offer_stock_sheet_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_offer_supplier_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_offer")),
    )
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_offer_material_id"), ["material_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_offer_stock_sheet_id"), ["stock_sheet_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_offer_supplier_id"), ["supplier_id"], unique=False)

    op.create_table(
        "payment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("receipt_number", sa.Integer(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("paid_on", sa.Date(), nullable=False),
        sa.Column("how", sa.String(length=40), nullable=False),
        sa.CheckConstraint("amount <> 0", name=op.f("ck_payment_amount")),
        sa.ForeignKeyConstraint(
            ["order_id"],
            ["customer_order.id"],
            name=op.f("fk_payment_order_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payment")),
        sa.UniqueConstraint("receipt_number", name=op.f("uq_payment_receipt_number")),
    )
    with op.batch_alter_table("payment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_payment_order_id"), ["order_id"], unique=False)

    op.create_table(
        "purchase_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("purchase_id", sa.Integer(), nullable=False),
        sa.Column("stock_sheet_id", sa.Integer(), nullable=True),
        sa.Column("material_id", sa.Integer(), nullable=True),
        sa.Column("packs", sa.Integer(), nullable=False),
        sa.Column("pack_quantity", sa.BigInteger(), nullable=False),
        sa.Column("pack_price", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "(CASE WHEN stock_sheet_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN material_id IS NULL THEN 0 ELSE 1 END) = 1",
            name=op.f("ck_purchase_line_exactly_one_stock_sheet_id_material_id"),
        ),
        sa.CheckConstraint("packs > 0 AND pack_quantity > 0", name=op.f("ck_purchase_line_packs")),
        sa.ForeignKeyConstraint(
            ["material_id"],
            ["material.id"],
            name=op.f("fk_purchase_line_material_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["purchase_id"],
            ["purchase.id"],
            name=op.f("fk_purchase_line_purchase_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["stock_sheet_id"],
            ["stock_sheet.id"],
            name=op.f("fk_purchase_line_stock_sheet_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase_line")),
    )
    with op.batch_alter_table("purchase_line", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_purchase_line_material_id"), ["material_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_purchase_line_purchase_id"), ["purchase_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_purchase_line_stock_sheet_id"), ["stock_sheet_id"], unique=False
        )

    op.create_table(
        "receipt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("purchase_id", sa.Integer(), nullable=False),
        sa.Column("came_on", sa.Date(), nullable=False),
        sa.Column("carriage", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["purchase_id"],
            ["purchase.id"],
            name=op.f("fk_receipt_purchase_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receipt")),
    )
    with op.batch_alter_table("receipt", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_receipt_purchase_id"), ["purchase_id"], unique=False)

    op.create_table(
        "variant",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("design_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("shelf_level", sa.Integer(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.CheckConstraint("shelf_level >= 0", name=op.f("ck_variant_shelf_level")),
        sa.ForeignKeyConstraint(
            ["design_id"], ["design.id"], name=op.f("fk_variant_design_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_variant")),
        sa.UniqueConstraint("design_id", "name", name=op.f("uq_variant_design_id_name")),
    )
    with op.batch_alter_table("variant", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_variant_design_id"), ["design_id"], unique=False)

    op.create_table(
        "choice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(length=40), nullable=False),
        sa.Column("paper_id", sa.Integer(), nullable=True),
        sa.Column("material_id", sa.Integer(), nullable=True),
        sa.Column("quantity", sa.BigInteger(), nullable=True),
        sa.CheckConstraint(
            "paper_id IS NULL OR material_id IS NULL", name=op.f("ck_choice_paper_or_material")
        ),
        sa.ForeignKeyConstraint(
            ["material_id"],
            ["material.id"],
            name=op.f("fk_choice_material_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["paper_id"], ["paper.id"], name=op.f("fk_choice_paper_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_choice_variant_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_choice")),
        sa.UniqueConstraint("variant_id", "role", name=op.f("uq_choice_variant_id_role")),
    )
    with op.batch_alter_table("choice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_choice_material_id"), ["material_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_choice_paper_id"), ["paper_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_choice_variant_id"), ["variant_id"], unique=False)

    op.create_table(
        "lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stock_sheet_id", sa.Integer(), nullable=True),
        sa.Column("material_id", sa.Integer(), nullable=True),
        sa.Column("variant_id", sa.Integer(), nullable=True),
        sa.Column("parent_id", sa.Integer(), nullable=True),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("offcut_width_nm", sa.BigInteger(), nullable=True),
        sa.Column("offcut_height_nm", sa.BigInteger(), nullable=True),
        sa.Column("came_on", sa.Date(), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.CheckConstraint(
            "(CASE WHEN stock_sheet_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN material_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN variant_id IS NULL THEN 0 ELSE 1 END) = 1",
            name=op.f("ck_lot_exactly_one_stock_sheet_id_material_id_var"),
        ),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_lot_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["material_id"], ["material.id"], name=op.f("fk_lot_material_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["parent_id"], ["lot.id"], name=op.f("fk_lot_parent_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["stock_sheet_id"],
            ["stock_sheet.id"],
            name=op.f("fk_lot_stock_sheet_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_lot_variant_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
    )
    with op.batch_alter_table("lot", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_lot_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_material_id"), ["material_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_parent_id"), ["parent_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_stock_sheet_id"), ["stock_sheet_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_variant_id"), ["variant_id"], unique=False)

    op.create_table(
        "market_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("market_id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("take", sa.Integer(), nullable=False),
        sa.Column("sold", sa.Integer(), nullable=True),
        sa.Column("home", sa.Integer(), nullable=True),
        sa.CheckConstraint("take >= 0", name=op.f("ck_market_line_take")),
        sa.ForeignKeyConstraint(
            ["market_id"], ["market.id"], name=op.f("fk_market_line_market_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"],
            ["variant.id"],
            name=op.f("fk_market_line_variant_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_market_line")),
        sa.UniqueConstraint(
            "market_id", "variant_id", name=op.f("uq_market_line_market_id_variant_id")
        ),
    )
    with op.batch_alter_table("market_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_market_line_market_id"), ["market_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_market_line_variant_id"), ["variant_id"], unique=False)

    op.create_table(
        "offer_break",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("offer_id", sa.Integer(), nullable=False),
        sa.Column("from_packs", sa.Integer(), nullable=False),
        sa.Column("pack_price", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("from_packs >= 1", name=op.f("ck_offer_break_from_packs")),
        sa.CheckConstraint("pack_price >= 0", name=op.f("ck_offer_break_pack_price")),
        sa.ForeignKeyConstraint(
            ["offer_id"], ["offer.id"], name=op.f("fk_offer_break_offer_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_offer_break")),
        sa.UniqueConstraint(
            "offer_id", "from_packs", name=op.f("uq_offer_break_offer_id_from_packs")
        ),
    )
    with op.batch_alter_table("offer_break", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_offer_break_offer_id"), ["offer_id"], unique=False)

    op.create_table(
        "order_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("unit_price", sa.BigInteger(), nullable=False),
        sa.Column("unit_cost", sa.BigInteger(), nullable=True),
        sa.Column("asked_for", sa.Text(), server_default="", nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_order_line_quantity")),
        sa.CheckConstraint("unit_price >= 0", name=op.f("ck_order_line_unit_price")),
        sa.ForeignKeyConstraint(
            ["order_id"],
            ["customer_order.id"],
            name=op.f("fk_order_line_order_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"],
            ["variant.id"],
            name=op.f("fk_order_line_variant_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_line")),
    )
    with op.batch_alter_table("order_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_order_line_order_id"), ["order_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_order_line_variant_id"), ["variant_id"], unique=False)

    op.create_table(
        "price",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("channel_id", sa.Integer(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("amount >= 0", name=op.f("ck_price_amount")),
        sa.ForeignKeyConstraint(
            ["channel_id"], ["channel.id"], name=op.f("fk_price_channel_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"], ["variant.id"], name=op.f("fk_price_variant_id"), ondelete="RESTRICT"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price")),
        sa.UniqueConstraint(
            "variant_id", "channel_id", name=op.f("uq_price_variant_id_channel_id")
        ),
    )
    with op.batch_alter_table("price", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_price_channel_id"), ["channel_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_price_variant_id"), ["variant_id"], unique=False)

    op.create_table(
        "batch_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=False),
        sa.Column("variant_id", sa.Integer(), nullable=False),
        sa.Column("order_line_id", sa.Integer(), nullable=True),
        sa.Column("market_id", sa.Integer(), nullable=True),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("good", sa.Integer(), nullable=False),
        sa.Column("spoiled", sa.Integer(), nullable=False),
        sa.CheckConstraint("good >= 0 AND spoiled >= 0", name=op.f("ck_batch_line_outcome")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_batch_line_quantity")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_batch_line_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["market_id"], ["market.id"], name=op.f("fk_batch_line_market_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["order_line_id"],
            ["order_line.id"],
            name=op.f("fk_batch_line_order_line_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["variant_id"],
            ["variant.id"],
            name=op.f("fk_batch_line_variant_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_line")),
    )
    with op.batch_alter_table("batch_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batch_line_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_batch_line_market_id"), ["market_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_batch_line_order_line_id"), ["order_line_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_batch_line_variant_id"), ["variant_id"], unique=False)

    op.create_table(
        "movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("batch_id", sa.Integer(), nullable=True),
        sa.Column("order_id", sa.Integer(), nullable=True),
        sa.Column("market_id", sa.Integer(), nullable=True),
        sa.Column("reverses_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), server_default="", nullable=False),
        sa.CheckConstraint(
            "kind IN ('received', 'opening', 'issued', 'returned', 'counted', 'spoiled', 'cut', 'made', 'sold', 'reversed')",
            name=op.f("ck_movement_kind"),
        ),
        sa.CheckConstraint("quantity <> 0", name=op.f("ck_movement_quantity")),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batch.id"], name=op.f("fk_movement_batch_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["lot_id"], ["lot.id"], name=op.f("fk_movement_lot_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["market_id"], ["market.id"], name=op.f("fk_movement_market_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["order_id"],
            ["customer_order.id"],
            name=op.f("fk_movement_order_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["reverses_id"],
            ["movement.id"],
            name=op.f("fk_movement_reverses_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_movement_reverses_id")),
    )
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_movement_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_lot_id"), ["lot_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_market_id"), ["market_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_order_id"), ["order_id"], unique=False)

    op.create_table(
        "receipt_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("receipt_id", sa.Integer(), nullable=False),
        sa.Column("purchase_line_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("packs", sa.Integer(), nullable=False),
        sa.CheckConstraint("packs > 0", name=op.f("ck_receipt_line_packs")),
        sa.ForeignKeyConstraint(
            ["lot_id"], ["lot.id"], name=op.f("fk_receipt_line_lot_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(
            ["purchase_line_id"],
            ["purchase_line.id"],
            name=op.f("fk_receipt_line_purchase_line_id"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["receipt_id"],
            ["receipt.id"],
            name=op.f("fk_receipt_line_receipt_id"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_receipt_line")),
    )
    with op.batch_alter_table("receipt_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_receipt_line_lot_id"), ["lot_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_receipt_line_purchase_line_id"), ["purchase_line_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_receipt_line_receipt_id"), ["receipt_id"], unique=False
        )

    keep_movements()


def downgrade() -> None:
    with op.batch_alter_table("receipt_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_receipt_line_receipt_id"))
        batch_op.drop_index(batch_op.f("ix_receipt_line_purchase_line_id"))
        batch_op.drop_index(batch_op.f("ix_receipt_line_lot_id"))

    op.drop_table("receipt_line")
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_movement_order_id"))
        batch_op.drop_index(batch_op.f("ix_movement_market_id"))
        batch_op.drop_index(batch_op.f("ix_movement_lot_id"))
        batch_op.drop_index(batch_op.f("ix_movement_batch_id"))

    op.drop_table("movement")
    with op.batch_alter_table("batch_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_batch_line_variant_id"))
        batch_op.drop_index(batch_op.f("ix_batch_line_order_line_id"))
        batch_op.drop_index(batch_op.f("ix_batch_line_market_id"))
        batch_op.drop_index(batch_op.f("ix_batch_line_batch_id"))

    op.drop_table("batch_line")
    with op.batch_alter_table("price", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_price_variant_id"))
        batch_op.drop_index(batch_op.f("ix_price_channel_id"))

    op.drop_table("price")
    with op.batch_alter_table("order_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_order_line_variant_id"))
        batch_op.drop_index(batch_op.f("ix_order_line_order_id"))

    op.drop_table("order_line")
    with op.batch_alter_table("offer_break", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_offer_break_offer_id"))

    op.drop_table("offer_break")
    with op.batch_alter_table("market_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_market_line_variant_id"))
        batch_op.drop_index(batch_op.f("ix_market_line_market_id"))

    op.drop_table("market_line")
    with op.batch_alter_table("lot", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_lot_variant_id"))
        batch_op.drop_index(batch_op.f("ix_lot_stock_sheet_id"))
        batch_op.drop_index(batch_op.f("ix_lot_parent_id"))
        batch_op.drop_index(batch_op.f("ix_lot_material_id"))
        batch_op.drop_index(batch_op.f("ix_lot_batch_id"))

    op.drop_table("lot")
    with op.batch_alter_table("choice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_choice_variant_id"))
        batch_op.drop_index(batch_op.f("ix_choice_paper_id"))
        batch_op.drop_index(batch_op.f("ix_choice_material_id"))

    op.drop_table("choice")
    with op.batch_alter_table("variant", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_variant_design_id"))

    op.drop_table("variant")
    with op.batch_alter_table("receipt", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_receipt_purchase_id"))

    op.drop_table("receipt")
    with op.batch_alter_table("purchase_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_purchase_line_stock_sheet_id"))
        batch_op.drop_index(batch_op.f("ix_purchase_line_purchase_id"))
        batch_op.drop_index(batch_op.f("ix_purchase_line_material_id"))

    op.drop_table("purchase_line")
    with op.batch_alter_table("payment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_payment_order_id"))

    op.drop_table("payment")
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_offer_supplier_id"))
        batch_op.drop_index(batch_op.f("ix_offer_stock_sheet_id"))
        batch_op.drop_index(batch_op.f("ix_offer_material_id"))

    op.drop_table("offer")
    with op.batch_alter_table("stock_sheet", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stock_sheet_paper_id"))

    op.drop_table("stock_sheet")
    with op.batch_alter_table("purchase", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_purchase_supplier_id"))

    op.drop_table("purchase")
    with op.batch_alter_table("market", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_market_channel_id"))

    op.drop_table("market")
    with op.batch_alter_table("logged_minutes", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_logged_minutes_batch_id"))

    op.drop_table("logged_minutes")
    with op.batch_alter_table("design", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_design_journal_id"))

    op.drop_table("design")
    with op.batch_alter_table("customer_order", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_customer_order_wanted_by"))
        batch_op.drop_index(batch_op.f("ix_customer_order_state"))
        batch_op.drop_index(batch_op.f("ix_customer_order_customer_id"))
        batch_op.drop_index(batch_op.f("ix_customer_order_channel_id"))

    op.drop_table("customer_order")
    op.drop_table("supplier")
    op.drop_table("shop")
    op.drop_table("paper")
    op.drop_table("operation_time")
    op.drop_table("number_series")
    op.drop_table("material")
    op.drop_table("journal")
    op.drop_table("deed")
    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_customer_name"))

    op.drop_table("customer")
    op.drop_table("channel")
    op.drop_table("batch")
    if op.get_bind().dialect.name != "sqlite":
        op.execute("DROP FUNCTION movement_is_kept()")
