"""Papers, materials and offers: one name each, the newest offer in force."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.services.shop import settings as shop
from app.services.stock.materials import (
    make_offer,
    offers_in_force,
    papers,
    price_for,
    save_material,
    save_paper,
    save_stock_sheet,
)
from tests.conftest import DAY
from tests.factories import material, offer, paper, sheet, supplier


def test_names_are_given_once(session: Session) -> None:
    first = paper(session)
    with pytest.raises(DomainError, match="already"):
        paper(session)
    save_paper(session, first, {"name": "Laid 120", "note": "again"})
    first.retired = True
    session.flush()
    with pytest.raises(DomainError, match="bring it back"):
        paper(session)
    assert papers(session) == []


def test_a_size_and_grain_is_listed_once(session: Session) -> None:
    of = paper(session)
    known = sheet(session, of)
    with pytest.raises(DomainError, match="of that size"):
        sheet(session, of)
    sheet(session, of, grain="width")
    values = {"width_nm": 640 * MM, "height_nm": 900 * MM, "grain": "height", "trim_nm": 5 * MM}
    assert save_stock_sheet(session, of, known, values).trim_nm == 5 * MM


def test_the_newest_offer_of_each_supplier_holds(session: Session) -> None:
    item = sheet(session, paper(session))
    one, two = supplier(session, "One"), supplier(session, "Two")
    offer(session, item, "10", by=one, since=DAY - timedelta(days=50))
    newer = offer(session, item, "12", by=one, since=DAY - timedelta(days=5))
    other = offer(session, item, "11", by=two, since=DAY - timedelta(days=70))
    offer(session, item, "1", by=two, since=DAY + timedelta(days=1))
    session.expire_all()
    assert set(offers_in_force(item.offers, DAY)) == {newer, other}
    price = price_for(item, 10, DAY)
    assert price is not None
    assert price.offer is other
    two.retired = True
    assert offers_in_force(item.offers, DAY) == [newer]


def test_quantity_earns_its_break(session: Session) -> None:
    item = material(session)
    offer(session, item, "5.00", 50 * METRE, breaks={6: "4.50"})
    session.expire_all()
    few, many = price_for(item, 60 * METRE, DAY), price_for(item, 300 * METRE, DAY)
    assert few is not None
    assert many is not None
    assert (few.choice.packs, few.choice.pack_price) == (2, Decimal("5.00"))
    assert (many.choice.packs, many.choice.pack_price) == (6, Decimal("4.50"))
    assert price_for(material(session, "Other"), 1, DAY) is None


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"pack_quantity": 0}, "pack_quantity"),
        ({"breaks": {}}, "pack_price"),
        ({"breaks": {1: Decimal(5), 4: Decimal(6)}}, "breaks"),
    ],
)
def test_offers_that_make_no_sense(
    session: Session, changes: dict[str, object], field: str
) -> None:
    values = {"pack_quantity": 10, "breaks": {1: Decimal(5)}, "lead_days": 1, "valid_from": DAY}
    with pytest.raises(DomainError) as caught:
        make_offer(session, supplier(session), material(session), **(values | changes))  # type: ignore[arg-type]
    assert caught.value.field == field


def test_a_measure_stays_once_there_are_offers(session: Session) -> None:
    item = material(session)
    offer(session, item, "5", METRE)
    session.expire_all()
    with pytest.raises(DomainError, match="add a new material"):
        save_material(session, item, {"name": item.name, "measure": "count"})


def test_channels_have_names_of_their_own(session: Session) -> None:
    first, second, *_ = shop.channels(session)
    with pytest.raises(DomainError, match="already"):
        shop.save_channel(session, first, {"name": second.name})


def test_operation_times_are_the_shops_own_once_set(session: Session) -> None:
    shop.set_operation_time(session, "sew", Decimal(3), Decimal("1.75"), Decimal(0))
    times = shop.operation_times(session)
    assert (times["sew"].minutes_each, times["sew"].own) == (Decimal("1.75"), True)
    assert not times["fold"].own
    with pytest.raises(DomainError):
        shop.set_operation_time(session, "juggle", Decimal(1), Decimal(1), Decimal(0))


def test_a_deed_is_done_once(session: Session) -> None:
    shop.check_not_done(session, "k")
    shop.do_once(session, "k", "/orders/1")
    with pytest.raises(shop.AlreadyDoneError) as caught:
        shop.check_not_done(session, "k")
    assert caught.value.led_to == "/orders/1"


def test_settings_refuse_a_stale_form_and_an_unknown_currency(session: Session) -> None:
    now = shop.the_shop(session).version
    with pytest.raises(shop.StaleError):
        shop.change_settings(session, {"currency": "GBP"}, now + 7)
    with pytest.raises(DomainError, match="no currency"):
        shop.change_settings(session, {"currency": "ZZZ"}, now)
