"""What stands on labels and swing tags, and the sheet they are printed on

Revision: 0033
Follows: 0032
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0033"
down_revision = "0032"
branch_labels = None
depends_on = None


def upgrade() -> None:
    texts = ("origin", "care", "small_parts", "more")
    op.create_table(
        "label_words",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sheet", sa.String(length=40), nullable=False),
        sa.Column("says_made_of", sa.Boolean(), nullable=False, server_default=sa.false()),
        sa.Column("says_address", sa.Boolean(), nullable=False, server_default=sa.false()),
        *(sa.Column(name, sa.Text(), nullable=False, server_default="") for name in texts),
        sa.Column("version", sa.Integer(), nullable=False, server_default="1"),
        sa.CheckConstraint("id = 1", name=op.f("ck_label_words_one_row")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_label_words")),
    )


def downgrade() -> None:
    op.drop_table("label_words")
