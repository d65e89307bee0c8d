"""A customer's data given out and taken out on screen, never by one click."""

from __future__ import annotations

from pathlib import Path

from flask import Flask

from tests.web.orders.test_ready import press
from tests.web.visitor import Visitor


def test_it_is_asked_about_and_done(stocked: Visitor) -> None:
    page = stocked.get("/orders/customers/1/erase")
    assert "Order 1 is enquiry: deliver, decline or cancel it first." in page.words
    press(stocked, stocked.get("/orders/1"), "Decline")
    held = stocked.client.get("/orders/customers/1/data.json")
    assert held.json["customer"]["name"] == "Ada"
    page = stocked.get("/orders/customers/1/erase")
    refused = stocked.send(page, "invoices_before", {"invoices_before": "2020-01-01"}, status=422)
    assert "Tick that you mean it." in refused.words
    assert refused.value("invoices_before") == "2020-01-01"
    done = stocked.send(refused, "invoices_before", {"+sure": "y"})
    assert "What was personal is taken out; the figures stay." in done.said
    assert "Ada" not in done.words
    assert "erased on request" in stocked.get("/orders/1").words
    for path in ("", "/erase", "/data.json", "/join"):
        assert stocked.client.get(f"/orders/customers/1{path}").status_code == 404
    assert "Ada" not in stocked.get("/orders?state=").words
    assert stocked.get("/orders?q=Ada").words.count("Order 1") == 0


def test_nothing_is_left_in_the_files_of_the_data_folder(
    stocked: Visitor, empty_app: Flask
) -> None:
    folder = Path(empty_app.config["PHOTOS"]).parent
    change = stocked.get("/orders/1/change")
    stocked.send(change, "note", {"note": "ring Zqxwv at noon"})

    def held() -> bool:
        return any(b"Zqxwv" in path.read_bytes() for path in folder.glob("shop.sqlite3*"))

    assert held()
    press(stocked, stocked.get("/orders/1"), "Decline")
    stocked.send(stocked.get("/orders/customers/1/erase"), "invoices_before", {"+sure": "y"})
    assert not held()
