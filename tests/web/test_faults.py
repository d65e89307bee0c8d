"""What goes wrong around the shop has a page that says so, and nothing is acknowledged."""

from __future__ import annotations

import random

from app.config import Settings
from tests.door import open_app
from tests.services.upkeep.test_looking_through import first_pages
from tests.web.visitor import Visitor


def test_a_file_that_is_gone_is_told_and_comes_back(
    stocked: Visitor, empty_settings: Settings
) -> None:
    file = empty_settings.folder / "shop.sqlite3"
    page = stocked.get("/orders/1")
    file.rename(file.with_name("away"))
    page = stocked.send(page, "paid_on", {"amount": "5.00"}, 503)
    assert "The shop is not where it was" in page.words
    assert f"{file} is gone" in page.words
    assert "tallyfold check" in page.words
    stocked.get("/", 503)
    file.with_name("away").rename(file)
    page = stocked.get("/orders/1")
    assert "Receipt 1" not in page.words
    page = stocked.send(page, "paid_on", {"amount": "5.00"})
    assert "Receipt 1" in page.said


def test_a_damaged_database_is_told(demo_settings: Settings) -> None:
    file = demo_settings.folder / "shop.sqlite3"
    at, chance = first_pages(file, "customer_order"), random.Random(1)
    data = bytearray(file.read_bytes())
    data[at : at + 4096] = chance.randbytes(4096)
    file.write_bytes(data)
    # Opened past the program's own look at its start, as a disk that fails later would be.
    app = open_app(demo_settings)
    page = Visitor(app).get("/orders", 503)
    app.extensions["engine"].dispose()
    assert "The database is damaged" in page.words
    assert "tallyfold restore" in page.words
