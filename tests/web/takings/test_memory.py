"""Sums that are remembered are those of the shop as it is: any change is seen on the next page."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from flask import Flask
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from app.core.states import MovementKind
from app.db import transaction
from app.memory import KEPT, Memory, remembered
from app.models import Lot, Movement, OrderLine
from app.services.shop.settings import the_shop
from app.services.takings.account import takings
from app.services.takings.periods import usual_period
from tests.web.conftest import sessions_of
from tests.web.visitor import Visitor

PAGES = ("/takings", "/takings/year", "/takings/stock", "/takings/sales?by=channel&key=1")


def bodies(guest: Visitor) -> list[str]:
    return [guest.get(path).words for path in PAGES]


def test_a_change_that_no_page_made_is_seen_at_once(guest: Visitor, demo_app: Flask) -> None:
    before = bodies(guest)
    assert bodies(guest) == before
    with transaction(sessions_of(demo_app)) as session:
        line = session.scalars(select(OrderLine).order_by(OrderLine.id)).first()
        assert line is not None
        line.unit_price += 100
        lot = session.scalars(select(Lot).where(Lot.variant_id.is_not(None))).first()
        assert lot is not None
        session.add(
            Movement(lot_id=lot.id, kind=MovementKind.COUNTED, quantity=1, cost=Decimal(77),
                     at=datetime.now(UTC) - timedelta(days=1))
        )  # fmt: skip
    after = bodies(guest)
    assert [a != b for a, b in zip(before, after, strict=True)] == [True] * len(PAGES)


def test_what_was_reckoned_once_is_not_reckoned_again(guest: Visitor, demo_app: Flask) -> None:
    made: list[str] = []
    memory: Memory = demo_app.extensions["memory"]

    @remembered
    def reckon(session: Session, key: str) -> str:
        made.append(key)
        return "sum"

    def look() -> str:
        with sessions_of(demo_app)() as session:
            memory.carried_by(session)
            return reckon(session, "a")

    assert [look(), look()] == ["sum", "sum"]
    assert made == ["a"]
    guest.send(guest.get("/journals/1/name"), "name", {"name": "Dunlin"})
    look()
    assert made == ["a", "a"]


def test_without_a_memory_nothing_is_remembered(session: Session) -> None:
    made: list[int] = []
    reckon = remembered(lambda session: made.append(1))
    for _ in range(2):
        reckon(session)
    assert len(made) == 2


def test_only_the_latest_are_kept(session: Session, tmp_path: Path) -> None:
    file = tmp_path / "shop.sqlite3"
    file.write_bytes(b"")
    memory, made = Memory(file, lambda: "1"), []
    memory.carried_by(session)
    for key in [*range(KEPT + 1), KEPT, 0]:
        memory.of(session, key, lambda key=key: made.append(key))  # type: ignore[misc]
    assert made == [*range(KEPT + 1), 0]


def test_a_sum_of_a_shop_that_changes_meanwhile_is_not_kept(demo_app: Flask) -> None:
    memory: Memory = demo_app.extensions["memory"]
    period = usual_period(date.today())
    session = sessions_of(demo_app)()
    memory.carried_by(session)
    session.connection(execution_options={"reads_only": True})
    the_shop(session)
    with transaction(sessions_of(demo_app)) as other:
        other.execute(update(OrderLine).values(unit_price=OrderLine.unit_price + 1000))
    old = takings(session, period, "channel").total.shown.sales
    session.close()
    with sessions_of(demo_app)() as later:
        memory.carried_by(later)
        assert takings(later, period, "channel").total.shown.sales > old


def test_whoever_changes_what_is_given_out_changes_nothing_that_is_kept(demo_app: Flask) -> None:
    @remembered
    def reckon(session: Session) -> dict[str, int]:
        return {"sold": 3}

    with sessions_of(demo_app)() as session:
        demo_app.extensions["memory"].carried_by(session)
        for _ in range(2):
            found = reckon(session)
            assert found == {"sold": 3}
            found["sold"] = 4
