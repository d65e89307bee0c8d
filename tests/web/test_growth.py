"""A shop that grows: no page asks the database more often for having more rows."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import event

from app.config import settings_for
from app.models import Journal, Order, Variant
from app.services.stock import history as story
from app.services.stock import ledger as stock
from app.services.upkeep.checking import check_books
from tests.bench import ten_years
from tests.conftest import count
from tests.door import open_app
from tests.web.conftest import sessions_of
from tests.web.visitor import Page, Visitor

SMALL, LARGE = 0.004, 0.02
MORE = 3
"""Questions that may be more for other reasons than rows, such as a paper that is planned."""


@pytest.fixture(scope="module")
def shops(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Flask]]:
    """Two shops of one kind, the second five times as large."""
    made = []
    for share in (SMALL, LARGE):
        folder = tmp_path_factory.mktemp("years")
        settings = settings_for(folder)
        ten_years.fill(folder / "shop.sqlite3", date.today(), share, on_sale=100)
        made.append(open_app(settings))
    yield made
    for app in made:
        app.extensions["engine"].dispose()


def questions(app: Flask, path: str) -> int:
    """How often a page asks the database, once it has been looked at before."""
    asked = 0

    def count(*_: object) -> None:
        nonlocal asked
        asked += 1

    guest = Visitor(app)
    guest.get(path)
    event.listen(app.extensions["engine"], "before_cursor_execute", count)
    guest.get(path)
    event.remove(app.extensions["engine"], "before_cursor_execute", count)
    return asked


@pytest.mark.parametrize(
    "path", [p for p in ten_years.PAGES if "50000" not in p and "1500" not in p]
)
def test_no_page_asks_more_often_for_more_rows(shops: list[Flask], path: str) -> None:
    small, large = (questions(app, path) for app in shops)
    assert large <= small + MORE, f"{small} questions became {large}"


def test_the_grown_shop_is_sound(shops: list[Flask]) -> None:
    with sessions_of(shops[1])() as session:
        assert check_books(session) == []


def test_a_long_history_is_read_a_page_at_a_time(shops: list[Flask]) -> None:
    guest, path, seen = Visitor(shops[1]), "/stockroom/items/sheet-1", 0
    while True:
        page = guest.get(path)
        seen += sum(e.get("data-label") == "Lot" for e in page.all("td"))
        older = [a for a in page.all("a") if a.text == "Older entries"]
        if not older:
            break
        path = (older[0].get("href") or "").partition("#")[0]
    with sessions_of(shops[1])() as session:
        thing = stock.find_item(session, "sheet-1")
        assert thing is not None
        assert seen == len(story.history(session, thing, most=100_000).movements)
    assert seen > story.MOST_SHOWN
    assert "Nothing older" in guest.get("/stockroom/items/sheet-1?before=1").words


def numbers(page: Page, called: str) -> list[int]:
    """The numbers of what a list shows, as in "Purchase 12"."""
    texts = [a.text or "" for a in page.all("a")]
    return [
        int(t.split()[1]) for t in texts if t.startswith(f"{called} ") and t.split()[1].isdigit()
    ]


@pytest.mark.parametrize(
    ("path", "called"), [("/buying/purchases", "Purchase"), ("/stockroom/batches", "Batch")]
)
def test_long_lists_go_on_where_they_stopped(
    shops: list[Flask], path: str, called: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.web.buying.purchases.MOST_LISTED", 2)
    monkeypatch.setattr("app.services.bench.batches.MOST_LISTED", 2)
    guest, seen, page = Visitor(shops[1]), [], path
    for wrong in ("?before=soon", "?before=-1", "?before=99999999999"):
        assert numbers(guest.get(path + wrong), called)
    while page:
        shown = guest.get(page)
        assert 0 < len(numbers(shown, called)) <= 2
        seen += numbers(shown, called)
        older = [a.get("href") for a in shown.all("a") if (a.text or "").startswith("Older")]
        page = older[0] if older and len(seen) < 8 else ""
    assert len(seen) > 3
    assert seen == list(range(seen[0], seen[0] - len(seen), -1))


def test_customers_go_on_where_the_page_ended(
    shops: list[Flask], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.services.orders.customers.MOST_LISTED", 7)
    guest, path, seen = Visitor(shops[0]), "/orders/customers", []
    while path:
        page = guest.get(path)
        hrefs = [a.get("href") or "" for a in page.all("a")]
        shown = [h for h in hrefs if h.rpartition("/")[2].isdecimal() and "/customers/" in h]
        assert 0 < len(shown) <= 7
        seen += shown
        path = next((h for h in hrefs if "after=" in h), "")
    with sessions_of(shops[0])() as session:
        assert len(seen) == len(set(seen)) == count(session, "customer") > 7
    for wrong in ("?after=soon", "?after=-1", "?after=99999999999"):
        guest.get("/orders/customers" + wrong)


@pytest.mark.parametrize("path", ["/", "/buying", "/markets/1", "/orders"])
def test_a_page_leaves_no_circles_of_records_behind(shops: list[Flask], path: str) -> None:
    """CPython 3.11 died of collecting them; the template's own memory of a record is no circle."""

    def records() -> dict[int, Any]:
        return {id(x): x for x in gc.get_objects() if isinstance(x, (Order, Variant, Journal))}

    client = shops[0].test_client()
    gc.collect()
    gc.disable()
    before = records()
    try:
        assert client.get(path).status_code == 200
        left = [vars(x) for key, x in records().items() if key not in before]
    finally:
        gc.enable()
    assert left
    assert {key for held in left for key in held} == {"_sa_instance_state"}
