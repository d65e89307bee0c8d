"""How long a thing lasts: what is here by what was used, of what was used long enough."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy.orm import Session

from app.core.planning.reorder import weeks_left
from app.core.states import MovementKind
from app.models import Lot, Movement
from app.services.purchasing.lasting import Lasts, lasting
from tests.conftest import DAY
from tests.factories import material


def lot(session: Session, item_id: int, came: int, *used: tuple[int, int]) -> None:
    """So many here in the end, after so much was used so many days ago."""
    row = Lot(
        material_id=item_id, came_on=DAY - timedelta(days=400), cost=Decimal(0), left_quantity=0,
        left_cost=Decimal(0),
    )  # fmt: skip
    session.add(row)
    session.flush()
    moves = [(came, 400, MovementKind.RECEIVED)]
    moves += [(-quantity, days, MovementKind.ISSUED) for quantity, days in used]
    for quantity, days, kind in moves:
        at = datetime.combine(DAY - timedelta(days=days), time(12), UTC)
        session.add(Movement(lot_id=row.id, kind=kind, quantity=quantity, cost=Decimal(0), at=at))
    session.flush()


def test_what_is_here_lasts_by_what_was_used(session: Session) -> None:
    # Reckoned by hand: 60 used in the ten weeks since the first; 90 left last 15 weeks.
    thread, rest, fresh, old = (material(session, name) for name in ("A", "B", "C", "D"))
    lot(session, thread.id, 150, (20, 69), (40, 3))
    lot(session, rest.id, 10)
    lot(session, fresh.id, 10, (2, 20))
    lot(session, old.id, 10, (2, 390))
    found = lasting(session, DAY)
    # What was never used, for less than four weeks, or not in half a year says nothing.
    assert found == {f"material-{thread.id}": Lasts(90, 60, 10)}
    [it] = found.values()
    assert (it.left, it.share) == (15, Fraction(15, 26))


def test_the_bar_is_full_at_half_a_year_and_empty_at_nothing() -> None:
    assert Lasts(260, 10, 4).share == 1
    assert Lasts(0, 10, 4).share == 0


@pytest.mark.parametrize(
    ("here", "used", "weeks", "left"), [(7, 14, 4, Fraction(2)), (0, 3, 4, Fraction(0))]
)
def test_weeks_left(here: int, used: int, weeks: int, left: Fraction) -> None:
    assert weeks_left(here, used, weeks) == left
    assert weeks_left(here, 0, weeks) is None
