"""What stands at the head of a shop's papers, and the numbered papers customers are given

Revision: 0026
Follows: 0025
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "letterhead",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False, server_default=""),
        sa.Column("country", sa.String(length=2), nullable=False, server_default=""),
        sa.Column("contact", sa.Text(), nullable=False, server_default=""),
        sa.Column("tax_number", sa.String(length=120), nullable=False, server_default=""),
        sa.Column("register_number", sa.String(length=120), nullable=False, server_default=""),
        sa.Column("no_tax_because", sa.Text(), nullable=False, server_default=""),
        sa.Column("pay_how", sa.Text(), nullable=False, server_default=""),
        sa.Column("pay_days", sa.Integer(), nullable=False, server_default="14"),
        sa.Column("quote_days", sa.Integer(), nullable=False, server_default="30"),
        sa.Column("care", sa.Text(), nullable=False, server_default=""),
        sa.Column("logo", sa.LargeBinary()),
        sa.Column("version", sa.Integer(), nullable=False, server_default="1"),
        sa.CheckConstraint("id = 1", name=op.f("ck_letterhead_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_letterhead")),
    )
    op.create_table(
        "document",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("issued_on", sa.Date(), nullable=False),
        sa.Column("until", sa.Date()),
        sa.Column("answers_id", sa.Integer()),
        sa.Column("why", sa.Text(), nullable=False, server_default=""),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.CheckConstraint("number > 0", name=op.f("ck_document_number")),
        sa.ForeignKeyConstraint(
            ["order_id"], ["customer_order.id"], name=op.f("fk_document_order_id_customer_order"),
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["answers_id"], ["document.id"], name=op.f("fk_document_answers_id_document"),
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
        sa.UniqueConstraint("kind", "number", name=op.f("uq_document_kind_number")),
        sa.UniqueConstraint("answers_id", name=op.f("uq_document_answers_id")),
    )  # fmt: skip
    op.create_index(op.f("ix_document_order_id"), "document", ["order_id"])
    with op.batch_alter_table("customer") as table:
        table.add_column(
            sa.Column("country", sa.String(length=2), nullable=False, server_default="")
        )
        table.add_column(
            sa.Column("tax_number", sa.String(length=120), nullable=False, server_default="")
        )


def downgrade() -> None:
    """Refused once an invoice is written: the law wants it kept."""
    connection = op.get_bind()
    if connection.execute(sa.text("SELECT 1 FROM document WHERE kind <> 'quote'")).first():
        raise RuntimeError(
            "Invoices are on record, and the older schema cannot keep them: nothing was changed."
        )
    with op.batch_alter_table("customer") as table:
        table.drop_column("tax_number")
        table.drop_column("country")
    op.drop_table("document")
    op.drop_table("letterhead")
    op.execute("DELETE FROM number_series WHERE name = 'quote'")
