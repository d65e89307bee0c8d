"""Every page opens, on the demo and on an empty shop, and is sound."""

from __future__ import annotations

import re

import pytest
from flask import Flask

from tests.web.visitor import Page, Visitor

PLACES = (
    "/", "/orders", "/orders/new", "/journals", "/journals/new", "/stockroom",
    "/stockroom/papers/new", "/stockroom/materials/new", "/stockroom/suppliers/new", "/bench", "/bench/times", "/buying",
    "/markets", "/markets/new", "/shop", "/buying/cutting", "/buying/cutting/fill", "/journals/compare", "/shop/postage/new",
    "/orders/customers", "/stockroom/stocktake", "/stockroom/import", "/stockroom/batches", "/stockroom/batches/new", "/buying/purchases", "/buying/purchases/reorder", "/shop/channels/new", "/shop/times/sew",
    "/shop/papers", "/shop/backups", "/shop/devices", "/takings", "/takings?by=month", "/takings/what-if", "/takings/year", "/takings/stock", "/takings/costs", "/takings/costs/new", "/markets/shops", "/markets/shops/new", "/help", "/help/new",
)  # fmt: skip
ON_THE_DEMO = (
    "/orders?q=ferry", "/orders?state=delivered", "/orders?q=nobody+at+all", "/orders?page=7",
    "/orders/1", "/orders/26/cancel", "/orders/customers/1", "/orders/customers/1/erase", "/orders/customers/1/join?other=2",
    "/orders/customers?q=a", "/stockroom/batches/1/cancel", "/stockroom/batches/1", "/stockroom/batches/1/ticket", "/orders/26", "/orders/26/papers", "/orders/30/papers",
    "/orders/papers/1", "/orders/26/change", "/orders/30", "/orders/30/change",
    "/orders/new?variant=1", "/journals/1", "/journals/1/name", "/journals/5",
    "/journals/1/variants/2", "/stockroom/items/sheet-1", "/stockroom/items/material-1",
    "/stockroom/items/variant-1", "/stockroom/items/sheet-1/offers/new",
    "/stockroom/items/material-3/offers/new", "/stockroom/items/sheet-1/makes", "/stockroom/items/sheet-9/recipe",
    "/stockroom/items/sheet-9/recipe/remove", "/stockroom/items/sheet-9/make", "/stockroom/papers/1", "/stockroom/papers/1/sheets/new",
    "/journals/1/variants/1/pictures",
    "/stockroom/papers/1/sheets/1", "/stockroom/materials/1", "/stockroom/suppliers/1",
    "/buying?market=1&chosen=1", "/buying?chosen=1", "/markets/1", "/markets/1/change", "/markets/1/packing", "/markets/1/papers", "/markets/1/stall", "/markets/1/close", "/markets/1/earned",
    "/takings?by=channel", "/takings?by=market", "/takings?by=customer&first=2020-01-01", "/takings/sales?by=journal&key=1", "/takings/sales?by=market&key=0", "/takings/stock?shelf=papers", "/takings/stock?shelf=in+the+making", "/takings/stock?shelf=offcuts&on=2026-10-01", "/shop/channels/1", "/shop/postage/1", "/journals/1/variants/1/steps",
    "/orders/1/deliver", "/orders/1/back", "/journals/1/variants/1/map", "/journals/1/variants/1/cheaper", "/journals/1/variants/1/first-batch", "/journals/compare?with=1&with=3",
)  # fmt: skip


NO_PAGES = (
    "demo.page", "demo.anew", "demo.closed", "pictures.large", "pictures.small", "help.pulse",
    "static", "beside.price", "beside.honest", "beside.unsettled", "cutting.progress", "making.pdf", "making.svg", "documents.pdf", "documents.xml", "documents.receipt", "documents.slip",
    "letterhead.picture", "photos.picture", "exports.take_away", "takings.take_away", "exports.calendar", "customers.data",
    "stall.price", "stall_papers.labels", "outlets.one", "outlets.send", "outlets.home", "outlets.sold", "outlets.paid", "stall_papers.prices", "stall_papers.tally", "backups.one", "access.enter", "access.sign_in", "purchases.one", "purchases.cancel", "clocks.minutes", "batch_materials.change", "batches.part",
)  # fmt: skip


@pytest.mark.parametrize("path", PLACES)
def test_an_empty_shop_has_every_page(visitor: Visitor, path: str) -> None:
    visitor.get(path)


@pytest.mark.parametrize("path", PLACES + ON_THE_DEMO)
def test_the_demo_has_every_page(guest: Visitor, path: str) -> None:
    guest.get(path)


def test_no_route_is_left_out(demo_app: Flask) -> None:
    """A new page must be added to the lists above."""
    seen = {re.sub(r"\?.*", "", path) for path in PLACES + ON_THE_DEMO}
    adapter = demo_app.url_map.bind("localhost")
    opened = {adapter.match(path)[0] for path in seen}
    routes = {
        rule.endpoint
        for rule in demo_app.url_map.iter_rules()
        if "GET" in (rule.methods or ()) and rule.endpoint not in NO_PAGES
    }
    assert routes == opened


@pytest.mark.parametrize(
    "path",
    [
        "/nowhere", "/orders/9999", "/journals/9999", "/journals/1/variants/9999",
        "/journals/2/variants/1", "/stockroom/items/sheet-999", "/stockroom/items/nonsense",
        "/stockroom/papers/999", "/stockroom/papers/1/sheets/7", "/markets/999",
        "/shop/channels/99", "/shop/times/juggle", "/stockroom/items/variant-1/offers/new",
        "/stockroom/suppliers/99", "/stockroom/materials/99", "/journals/new?structure=scroll",
    ],
)  # fmt: skip
def test_what_is_not_there_is_said_plainly(guest: Visitor, path: str) -> None:
    page = guest.get(path, 404)
    assert "Page not found" in page.words


def links(page: Page) -> set[str]:
    found = {a.get("href") or "" for a in page.all("a")}
    return {link for link in found if link.startswith("/")}


def test_every_link_of_the_demo_leads_somewhere(guest: Visitor) -> None:
    seen: set[str] = set()
    ahead = ["/"]
    while ahead:
        path = ahead.pop().split("#")[0]
        if (
            path in seen
            or path.startswith("/static")
            or path.split("?")[0].endswith(
                (".svg", ".pdf", ".csv", ".xlsx", ".ics", ".json", ".xml")
            )
        ):
            continue
        seen.add(path)
        if len(seen) < 160:
            ahead += sorted(links(guest.get(path)))
    assert len(seen) > 60


def test_an_empty_shop_says_what_to_do_first(visitor: Visitor) -> None:
    page = visitor.get("/")
    assert "The first price, and the first buy list" in page.words
    assert "Until then €15.00 is taken, with lengths in millimetres" in page.words
    assert {"/shop", "/stockroom/papers/new", "/journals/new", "/orders/new"} <= links(page)
    for path, words in [
        ("/orders", "Log the first one"), ("/journals", "Draw the first one"),
        ("/stockroom", "Add the first paper"), ("/markets", "Add the next one"),
        ("/buying", "Nothing is wanted yet"),
    ]:  # fmt: skip
        assert words in visitor.get(path).words


def test_the_demo_reveals_its_two_secrets(guest: Visitor) -> None:
    listing = guest.get("/journals")
    assert "loses money" in listing.words
    losing = guest.get("/journals/4")
    assert "Samphire pocket book" in losing.words
    assert "Loses money:" in losing.words
    too_big = guest.get("/journals/5")
    assert "Curlew daybook" in too_big.words
    assert (
        "Take 5 mm off the leaf height and each sheet gives 8 folios instead of 6" in too_big.words
    )


def test_the_buy_list_says_what_and_why(guest: Visitor) -> None:
    page = guest.get("/buying")
    assert re.search(r"Buy \d+ packs? of \d+ sheets, 420 × 594 mm, from ", page.words)
    assert re.search(r"Of \d+ sheets cut \d+ are in stock", page.words)
    assert any(link.startswith("/orders/") for link in links(page))
    assert any(link.startswith("/markets/") for link in links(page))
    less = guest.get("/buying?chosen=1")
    assert "Winter fair at the Tithe Barn 8" not in less.words


def test_figures_on_the_design_page_agree(guest: Visitor) -> None:
    page = guest.get("/journals/1")
    rows = [
        [" ".join("".join(td.itertext()).split()) for td in tr.iter() if td.tag.endswith("}td")]
        for tr in page.all("tr")
    ]
    amounts = [row for row in rows if len(row) == 3 and re.fullmatch(r"\d+\.\d\d", row[2])]
    sums = {row[0]: row[1] for row in rows if len(row) == 2}
    total = sum(round(float(row[2]) * 100) for row in amounts)
    assert sums["Cost"] == f"£{total / 100:.2f}"
