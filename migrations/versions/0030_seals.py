"""A chain of digests over what was agreed, paid and written on papers

What is there already is sealed as it is. The facts are written out here once more, since the
program's own may change later and this must not.

Revision: 0030
Follows: 0029
"""

from __future__ import annotations

import json
from decimal import Decimal
from hashlib import sha256

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
branch_labels = None
depends_on = None

ON_PAPER = ("currency", "rate", "before_tax", "postage", "postage_net", "rounding", "paid")


def upgrade() -> None:
    seals = op.create_table(
        "seal",
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("what", sa.String(length=40), nullable=False),
        sa.Column("of_id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("chained", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_seal")),
    )
    op.create_index(op.f("ix_seal_what_of_id"), "seal", ["what", "of_id"])
    rows, before = [], "0" * 64
    for number, (what, of_id, facts) in enumerate(_facts(op.get_bind()), start=1):
        text = json.dumps(facts, separators=(",", ":"), sort_keys=True)
        digest = sha256(text.encode()).hexdigest()
        before = sha256(f"{before}|{what}|{of_id}|{digest}".encode()).hexdigest()
        rows.append(
            {"number": number, "what": what, "of_id": of_id, "digest": digest, "chained": before}
        )
    if rows:
        op.bulk_insert(seals, rows)
        op.execute(
            sa.text("INSERT INTO number_series (name, next_number) VALUES ('seal', :next)")
            .bindparams(next=len(rows) + 1)
        )  # fmt: skip


def _facts(bind: sa.Connection) -> list[tuple[str, int, object]]:
    found: list[tuple[str, int, object]] = []
    lines: dict[int, list[object]] = {}
    for id_, order, variant, quantity, price, cost in bind.execute(sa.text(
        "SELECT id, order_id, variant_id, quantity, unit_price, unit_cost FROM order_line ORDER BY id"
    )):  # fmt: skip
        lines.setdefault(order, []).append(
            [id_, variant, quantity, _scaled(price, 4), None if cost is None else _scaled(cost, 4)]
        )
    for id_, number, rate, before_tax, postage in bind.execute(sa.text(
        "SELECT id, number, tax_rate, before_tax, postage FROM customer_order "
        "WHERE agreed_at IS NOT NULL ORDER BY id"
    )):  # fmt: skip
        facts = [number, _scaled(rate, 6), int(before_tax), _scaled(postage, 4), lines.get(id_, [])]
        found.append(("order", id_, facts))
    for id_, number, order, amount, day, answers in bind.execute(sa.text(
        "SELECT id, receipt_number, order_id, amount, paid_on, reverses_id FROM payment ORDER BY id"
    )):  # fmt: skip
        found.append(("payment", id_, [number, order, _scaled(amount, 4), str(day), answers]))
    for id_, kind, number, order, content in bind.execute(sa.text(
        "SELECT id, kind, number, order_id, content FROM document ORDER BY id"
    )):  # fmt: skip
        paper = json.loads(content) if isinstance(content, str) else content
        rows = [[row["quantity"], row["price"], row["net"]] for row in paper["lines"]]
        keys = [paper[key] for key in ON_PAPER]
        found.append(("paper", id_, [kind, number, order, paper["issued_on"], *keys, rows]))
    return found


def _scaled(whole: int, places: int) -> str:
    return f"{Decimal(whole).scaleb(-places):.{places}f}"


def downgrade() -> None:
    """What was sealed is forgotten; what it was of stays."""
    op.execute("DELETE FROM number_series WHERE name = 'seal'")
    op.drop_index(op.f("ix_seal_what_of_id"), "seal")
    op.drop_table("seal")
