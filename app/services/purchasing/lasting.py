"""How long what is in the stockroom lasts, used as it was lately."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.planning.reorder import weeks_left
from app.models import Lot, Movement
from app.services.purchasing.reordering import LEAST_WEEKS, WEEKS, used_since
from app.services.stock.ledger import holdings


@dataclass(frozen=True)
class Lasts:
    """``here`` base units, ``used`` of them in the last ``weeks``."""

    here: int
    used: int
    weeks: int

    @property
    def left(self) -> Fraction:
        """Weeks until it is used up."""
        found = weeks_left(self.here, self.used, self.weeks)
        assert found is not None  # noqa: S101 - only what was used has a line
        return found

    @property
    def share(self) -> Fraction:
        """Of half a year, which is as far as one looks back."""
        return min(self.left / WEEKS, Fraction(1))


def lasting(session: Session, on: date) -> dict[str, Lasts]:
    """By item key how long it lasts, of what was used over four weeks or more."""
    since = datetime.combine(on - timedelta(weeks=WEEKS), time(), UTC)
    there = holdings(session)
    rows = session.execute(
        select(
            Lot.stock_sheet_id, Lot.material_id, func.sum(-Movement.quantity),
            func.min(Movement.at),
        )
        .join(Movement.lot)
        .where(*used_since(since))
        .group_by(Lot.stock_sheet_id, Lot.material_id)
    )  # fmt: skip
    found = {}
    for sheet, material, used, first in rows:
        key = f"sheet-{sheet}" if sheet else f"material-{material}"
        weeks = min((on - first.date()).days // 7 + 1, WEEKS)
        if weeks >= LEAST_WEEKS:
            here = there[key].quantity if key in there else 0
            found[key] = Lasts(here, int(used), weeks)
    return found
