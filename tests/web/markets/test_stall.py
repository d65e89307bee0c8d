"""The stall's sheet and the close of a day, as a person without scripts uses them."""

from __future__ import annotations

from datetime import date

import pytest

from tests.web.visitor import Page, Visitor

AT = "/markets/1/stall"


@pytest.fixture
def seller(stocked: Visitor) -> Visitor:
    """Somebody with a market of today, three journals on the shelf and on its list."""
    stocked.send(
        stocked.get("/stockroom/items/variant-1"), "counted", {"counted": "3", "why": "found again"}
    )
    stocked.send(
        stocked.get("/markets/new"), "name",
        {"name": "Quay fair", "day": date.today().isoformat(), "stall_fee": "20", "travel": "4", "channel": "1"},
    )  # fmt: skip
    stocked.send(stocked.get("/markets/1"), "take-1", {"take-1": "3"})
    return stocked


def touch(seller: Visitor, what: str, page: Page | None = None, status: int = 200) -> Page:
    """Press one of the sheet's buttons that has nothing to type."""
    page = page or seller.get(AT)
    values = [("csrf_token", page.value("csrf_token")), ("once", what + page.value("once"))]
    return seller.post(f"{AT}/{what}", values, status)


def pay(seller: Visitor, how: str, status: int = 200, **more: str) -> Page:
    form = seller.get(AT).form("given")
    return seller.post(form.action, [*form.filled(dict(more)), ("how", how)], status)


def test_a_day_is_sold_and_closed(seller: Visitor) -> None:
    assert "Sell at the stall" in seller.get("/markets/1").words
    page = seller.get(AT)
    assert "Touch what is sold" in page.words
    page = touch(seller, "stroke/1")
    page = touch(seller, "stroke/1")
    assert "2 not paid yet" in page.words
    assert "1 left" in page.words
    page = pay(seller, "cash", 422, given="79")
    assert page.error_at("given").startswith("€79.00 is less than €80.00")
    page = pay(seller, "cash", given="100")
    assert "Sale 1: €80.00 in cash. Give back €20.00." in page.said
    assert "2 sold, €80.00" in page.words
    touch(seller, "stroke/1")
    page = seller.send(seller.get(f"{AT}/price"), "once", {"price-2": "30"})
    assert "at €30.00" in page.words
    page = pay(seller, "card")
    assert "Sale 2: €30.00 by card." in page.said
    page = touch(seller, "undo")
    assert "Sale 2 is undone" in page.said
    page = seller.get("/markets/1/close")
    assert "€80.00 was taken in cash" in page.words
    assert page.value("home-1") == "1"
    page = seller.send(page, "home-1", {"home-1": "2"}, 422)
    assert "Between 0 and 1" in page.error_at("home-1")
    page = seller.send(
        page,
        "home-1",
        {
            "home-1": "0",
            "float_cash": "50",
            "cash": "129",
            "stall_hours": "6",
            "travel_hours": "1 h 30",
        },
    )
    assert "Quay fair is closed" in page.said
    assert "an hour for 7 h 30 min of yours" in page.words
    assert (
        "€50.00 at first and €80.00 taken make €130.00; €129.00 was counted: €1.00 too little."
        in page.words
    )
    # What stands in the account adds up.
    [account] = [t for t in page.all("table") if "The account of the day" in "".join(t.itertext())]
    figures = [
        float("".join(row[-1].itertext()).replace(",", "").replace("−", "-"))
        for row in account.iter("{http://www.w3.org/1999/xhtml}tr")
        if row[-1].tag.endswith("td")
    ]
    assert round(sum(figures[:-1]), 2) == figures[-1]
    assert "What it came to" in seller.get("/markets/1").words
    page = touch(seller, "stroke/1")
    assert "closed" in page.said
    page = seller.send(seller.get("/markets/1/earned"), "csrf_token", {})
    assert "is open again" in page.said


def test_what_makes_no_sense_is_refused(seller: Visitor) -> None:
    page = touch(seller, "undo")
    assert "no sale to undo" in page.said
    page = touch(seller, "rub-out/1")
    assert "no stroke to rub out" in page.said
    assert "touch what is sold first" in seller.get(f"{AT}/price").said
    touch(seller, "stroke/99", status=404)
    touch(seller, "stroke/1")
    pay(seller, "barter", 422)
    pay(seller, "cash", 422, given="a lot")
    assert "1 not paid yet" in seller.get(AT).words
    page = seller.send(seller.get("/markets/1/close"), "home-1", {}, 422)
    assert "begun and not paid" in page.words


def test_a_doubled_touch_is_one_stroke(seller: Visitor) -> None:
    page = seller.get(AT)
    values = [("csrf_token", page.value("csrf_token")), ("once", "abc")]
    for _ in range(2):
        page = seller.post(f"{AT}/stroke/1", values)
    assert "1 not paid yet" in page.words
