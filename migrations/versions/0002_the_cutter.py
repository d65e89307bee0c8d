"""The cutter: how far it reaches, how many sheets a stroke, which offcuts are kept

Revision: 0002
Follows: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Shops that are there keep any cut's length, one sheet a stroke, offcuts from 100 × 150 mm."""
    op.add_column("shop", sa.Column("longest_cut_nm", sa.BigInteger(), nullable=True))
    for name, begins in (
        ("sheets_a_stroke", "1"),
        ("offcut_short_nm", "100000000"),
        ("offcut_long_nm", "150000000"),
    ):
        kind = sa.Integer() if name == "sheets_a_stroke" else sa.BigInteger()
        op.add_column("shop", sa.Column(name, kind, nullable=False, server_default=begins))


def downgrade() -> None:
    for name in ("offcut_long_nm", "offcut_short_nm", "sheets_a_stroke", "longest_cut_nm"):
        op.drop_column("shop", name)
