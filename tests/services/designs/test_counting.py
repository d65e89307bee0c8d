"""What is found and never came in is worth what it would cost now."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy.orm import Session

from app.core.length import METRE
from app.services.designs.counting import count
from app.services.designs.journals import estimate
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import Bench, material


def worth(session: Session, item: object) -> Decimal:
    return stock.holdings(session)[stock.item_key(item)].cost  # type: ignore[arg-type]


def test_journals_found_are_worth_what_they_are_reckoned_to_cost(session: Session) -> None:
    bench = Bench(session)
    each = estimate(session, bench.variant, DAY).sheet.total()
    assert each > 0
    assert count(session, bench.variant, 3, DAY, "found again") == 3
    assert worth(session, bench.variant) == 3 * each


def test_a_material_found_is_worth_what_its_supplier_asks(session: Session) -> None:
    bench = Bench(session)
    # 5.00 for 50 m; and of what nobody sells nothing is known.
    count(session, bench.thread, 10 * METRE, DAY, "found again")
    assert worth(session, bench.thread) == Decimal("1.00")
    wax = material(session, "Wax", "mass")
    count(session, wax, 500, DAY, "found again")
    assert worth(session, wax) == 0


def test_what_came_in_before_decides(session: Session) -> None:
    bench = Bench(session)
    stock.receive(session, bench.variant, 2, Decimal(10), DAY)
    count(session, bench.variant, 3, DAY, "found again")
    assert worth(session, bench.variant) == 15
