"""Offcuts: lots with a size and a share of the cost, cut before sheets are bought."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.errors import DomainError
from app.core.length import MM
from app.models import Lot
from app.services.bench.cut_study import WhatIf, ask_for_list
from app.services.purchasing.buy_list import buy_list
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock import offcuts
from app.services.upkeep.checking import check_books
from tests.conftest import DAY
from tests.factories import Bench


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def keep(session: Session, bench: Bench, **changes: object) -> Lot:
    asked = {"sheets_cut": 4, "width_nm": 320 * MM, "height_nm": 450 * MM, "quantity": 4, "on": DAY}
    return offcuts.keep_offcuts(session, bench.sheet, **(asked | changes))  # type: ignore[arg-type]


def test_an_offcut_takes_its_share_of_the_cost(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.sheet, 10, Decimal("20.00"), DAY)
    lot = keep(session, bench)
    # 4 sheets cost 8; 4 quarters of 640 × 900 are a quarter of their area, worth half: 1.
    assert lot.cost == Decimal("1.0000")
    assert stock.on_hand(session, bench.sheet) == 6
    [found] = offcuts.offcuts(session)
    assert (found.quantity, found.cost) == (4, Decimal("1.0000"))
    assert lot.parent_id is not None
    assert check_books(session) == []


def test_what_an_offcut_is_worth_is_the_shops_to_say(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.sheet, 10, Decimal("20.00"), DAY)
    the_shop(session).offcut_worth = Decimal(0)
    assert keep(session, bench).cost == 0


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"width_nm": 700 * MM}, "width_nm"),
        ({"quantity": 40}, "quantity"),
        ({"sheets_cut": 1, "width_nm": 330 * MM, "height_nm": 460 * MM, "quantity": 3}, "quantity"),
        ({"width_nm": 640 * MM, "height_nm": 900 * MM, "quantity": 1}, "width_nm"),
        ({"width_nm": 0}, "width_nm"),
        ({"sheets_cut": 11}, "quantity"),
    ],
)
def test_what_cannot_have_been_left_over(
    session: Session, bench: Bench, changes: dict[str, int], field: str
) -> None:
    stock.receive(session, bench.sheet, 10, Decimal(20), DAY)
    with pytest.raises(DomainError) as caught:
        keep(session, bench, **changes)
    assert caught.value.field == field


def test_an_offcut_is_used_by_its_own_cost(session: Session, bench: Bench) -> None:
    stock.receive(session, bench.sheet, 10, Decimal(20), DAY)
    lot = keep(session, bench)
    assert offcuts.use_offcut(session, lot, 3, "used at the bench") == Decimal("0.75")
    assert offcuts.use_offcut(session, lot, 1, "spoiled") == Decimal("0.25")
    assert offcuts.offcuts(session) == []
    with pytest.raises(DomainError):
        offcuts.use_offcut(session, lot, 1, "used at the bench")
    with pytest.raises(DomainError, match="no offcut"):
        offcuts.use_offcut(session, stock.receive(session, bench.sheet, 1, Decimal(1), DAY), 1, "x")
    assert check_books(session) == []


def test_offcuts_are_cut_before_sheets_are_bought(session: Session, bench: Bench) -> None:
    bench.agreed(quantity=2)
    before = buy_list(session, DAY)
    stock.receive(session, bench.sheet, 20, Decimal(20), DAY - (DAY - date(2027, 1, 1)))
    keep(session, bench, sheets_cut=20, quantity=20)
    found = buy_list(session, DAY)
    plan = next(p for p in found.papers if p.paper is bench.paper)
    assert plan.spend == 0
    assert before.spend > found.spend
    assert {plan.sources[cut.source] for cut in plan.cuts} == {"an offcut in stock"}
    question = ask_for_list(session, DAY, Effort.NORMAL, WhatIf(only_here=True))
    names = {o.sheet.name for p in question.papers for o in p.problem.offers}
    assert "offcut 320 × 450 mm" in names
