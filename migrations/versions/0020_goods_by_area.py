"""Materials measured by area: leather, cloth, foil

Revision: 0020
Follows: 0019
"""

from __future__ import annotations

from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

NAME = "ck_material_measure"
BEFORE = ("length", "count", "mass", "volume")


def upgrade() -> None:
    _measures((*BEFORE, "area"))


def downgrade() -> None:
    """Refused by the database while there is a material by area: no other measure says it."""
    _measures(BEFORE)


def _measures(allowed: tuple[str, ...]) -> None:
    words = ", ".join(f"'{measure}'" for measure in allowed)
    with op.batch_alter_table("material") as material:
        material.drop_constraint(op.f(NAME), type_="check")
        material.create_check_constraint(op.f(NAME), f"measure IN ({words})")
