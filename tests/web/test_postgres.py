"""The pages over PostgreSQL: the main job once through, and two who press at one moment."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import update

from app.config import settings_for
from app.db import make_engine, session_maker, transaction
from app.models import Order, OrderLine
from app.schema import migrate
from app.services.shop.settings import prepare_shop
from app.services.stock import ledger as stock
from seed_demo import load_demo
from tests.door import open_app
from tests.postgres import Cluster
from tests.web.conftest import sessions_of
from tests.web.visitor import Visitor

pytestmark = pytest.mark.postgresql


def _fill(url: str) -> None:
    engine = make_engine(url)
    migrate(engine)
    with transaction(session_maker(engine)) as session:
        prepare_shop(session)
        load_demo(session, date.today())
    engine.dispose()


@pytest.fixture
def app(postgres: Cluster, tmp_path: Path) -> Iterator[Flask]:
    made = open_app(settings_for(tmp_path, postgres.copy_of("demo", _fill)))
    yield made
    made.extensions["engine"].dispose()


@pytest.mark.parametrize(
    "path",
    ["/", "/orders", "/orders?q=%00reed+%25", "/orders/26", "/journals", "/journals/4", "/stockroom",
     "/stockroom/items/sheet-1", "/buying", "/markets/1", "/shop"],
)  # fmt: skip
def test_pages_open(app: Flask, path: str) -> None:
    Visitor(app).get(path)


def test_an_order_is_logged_agreed_and_bought_for(app: Flask) -> None:
    visitor = Visitor(app)
    page = visitor.send(
        visitor.get("/orders/new"), "customer",
        {"customer": "Émile", "reach": "x" * 60, "lines-0-variant": "1", "lines-0-quantity": "40"},
    )  # fmt: skip
    assert "Order 31 is saved" in page.said
    visitor.send(visitor.get("/orders/31"), "paid_on", {"amount": "10"})
    visitor.send(visitor.get("/orders/31/change"), "note", {"lines-0-quantity": "41"})
    assert "1,876.00" in visitor.get("/orders/31").words


def at_once(app: Flask, path: str, values: list[dict[str, str]]) -> list[int]:
    """Send forms at one moment, each in a thread of its own; the status of each."""
    visitor = Visitor(app)
    visitor.get("/orders/26")
    cookie = visitor.client.get_cookie(name := app.config["SESSION_COOKIE_NAME"])
    assert cookie is not None
    found: list[int] = []
    ready = threading.Barrier(len(values))

    def send(data: dict[str, str]) -> None:
        client = app.test_client()
        client.set_cookie(name, cookie.value)
        ready.wait()
        found.append(client.post(path, data=data).status_code)

    token = dict(visitor.get("/orders/26").form("paid_on").values)["csrf_token"]
    threads = [threading.Thread(target=send, args=(v | {"csrf_token": token},)) for v in values]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    return found


def test_refunds_at_one_moment_never_pass_what_was_paid(app: Flask) -> None:
    rows = [
        {"once": f"refund{n}", "amount": "-10", "paid_on": "2026-01-01", "how": "cash"}
        for n in range(8)
    ]
    at_once(app, "/orders/25/payments", rows)
    with transaction(sessions_of(app)) as session:
        order = session.get_one(Order, 25)
        assert order.paid == 0


def test_counts_at_one_moment_count_once(app: Flask) -> None:
    with transaction(sessions_of(app)) as session:
        item = stock.find_item(session, "sheet-1")
        assert item is not None
        here = stock.on_hand(session, item)
    rows = [
        {"once": f"count{n}", "counted": str(here + 3), "why": "found again", "expected": str(here)}
        for n in range(6)
    ]
    at_once(app, "/stockroom/items/sheet-1/count", rows)
    with transaction(sessions_of(app)) as session:
        item = stock.find_item(session, "sheet-1")
        assert item is not None
        assert stock.on_hand(session, item) == here + 3


def test_a_doubled_press_leads_where_the_first_one_led(app: Flask) -> None:
    row = {
        "once": "paper",
        "name": "Doubled",
        "grammage": "90",
        "basis": "",
        "caliper_nm": "0.1",
        "grain": "?",
    }
    found = at_once(app, "/stockroom/papers/new", [row] * 6)
    assert set(found) == {302}


def test_two_people_are_told_of_each_others_edits(app: Flask) -> None:
    mine, theirs = Visitor(app), Visitor(app)
    page = mine.get("/orders/26/change")
    theirs.send(theirs.get("/orders/26/change"), "wanted_by", {"note": "by the window"})
    page = mine.send(page, "wanted_by", {"note": "by the door"}, 422)
    assert "another window" in page.words
    assert "Saved now: by the window" in page.words
    assert page.value("note") == "by the door"
    page = mine.send(page, "wanted_by", {})
    assert "by the door" in page.words


def test_takings_show_at_once_what_somebody_else_wrote(app: Flask) -> None:
    visitor = Visitor(app)
    before = visitor.get("/takings?by=channel").words
    assert visitor.get("/takings?by=channel").words == before
    other = make_engine(str(app.extensions["engine"].url.render_as_string(hide_password=False)))
    with transaction(session_maker(other)) as session:
        session.execute(update(OrderLine).values(unit_price=OrderLine.unit_price + 100))
    other.dispose()
    assert visitor.get("/takings?by=channel").words != before
