"""A market prepared to packed boxes, and the year closed: from first click to printed page."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import House
from tests.browser.test_journeys import fill, follow, press

pytestmark = pytest.mark.browser


def test_the_next_market_is_prepared_to_packed_boxes(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/markets")
    follow(page, "Lammas Yard makers' day")
    expect(page.get_by_text("at like markets").first).to_be_visible()
    row = page.locator("tr").filter(has_text="Curlew daybook")
    for number, typed in enumerate(("1", "2", "4")):
        row.locator("input").nth(number).fill(typed)
    # What is typed is told at once, before anything is saved.
    expect(row.locator("[id^=proposed-]")).to_have_text(re.compile(r"^\d+$"))
    row.locator("[name^=take-]").fill("2")
    expect(row.locator("[id^=odds-]")).to_have_text(re.compile(r"%|surely"))
    press(page, "Take what is proposed")
    expect(page.get_by_role("status")).to_contain_text("What is proposed is on the list now.")
    row = page.locator("tr").filter(has_text="Curlew daybook")
    proposed = row.locator("[id^=proposed-]").inner_text()
    expect(row.locator("[name^=take-]")).to_have_value(proposed)
    taken = page.locator("tfoot td").nth(3).inner_text()
    expect(page.locator(".ready")).to_contain_text("0 of")
    follow(page, "Packing list")
    page.locator("tr").filter(has_text="Reed pocket book").locator("input").fill("2")
    press(page, "Save what is packed")
    expect(page.get_by_role("status")).to_contain_text("journals are packed")
    packed = int(page.locator("tfoot td").last.inner_text())
    assert packed > 0
    follow(page, "Lammas Yard makers' day")
    expect(page.locator(".ready")).to_contain_text(f"{packed} of {taken} packed")
    follow(page, "Labels and papers")
    fill(page, origin="Made by hand in Upper Staithe")
    press(page, "Save what stands on labels")
    expect(page.locator(".label-shown")).to_contain_text("Made by hand in Upper Staithe")
    for path in ("labels.pdf?for=packed&start=3", "prices.pdf", "tally.pdf"):
        made = page.request.get(f"{demo_house.address}/markets/1/papers/{path}")
        assert made.headers["content-type"] == "application/pdf"
        assert made.body().startswith(b"%PDF")
    follow(page, "Lammas Yard makers' day")
    follow(page, "What to buy for it")
    expect(page.get_by_role("heading", level=1)).to_contain_text("What to buy")


def test_the_year_is_closed(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/")
    page.get_by_role("navigation", name="Stations").get_by_role("link", name="Takings").click()
    expect(page.locator(".verdict")).to_contain_text("An hour at the bench brought £")
    follow(page, "by market")
    follow(page, re.compile("harvest fair"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("harvest fair")
    page.go_back()
    follow(page, "Other costs")
    follow(page, "Write a cost down")
    fill(page, what="Workshop rent", amount="600", months="12")
    press(page, "Save the cost")
    expect(page.get_by_role("status")).to_contain_text("Workshop rent: saved.")
    page.goto(demo_house.address + "/takings")
    expect(page.get_by_text("Other costs", exact=True).last).to_be_visible()
    follow(page, "Year-end sheet")
    expect(page.get_by_text("It ties out")).to_be_visible()
    expect(page.get_by_text("Together, in balance")).to_be_visible()
    expect(page.get_by_text("Other: room and power").first).to_be_visible()
    with page.expect_download() as found:
        page.get_by_role("link", name="the journal, double entry as CSV").click()
    assert found.value.suggested_filename == "journal-entries.csv"
    page.emulate_media(media="print")
    assert not page.locator("nav.thread").is_visible()
    expect(page.get_by_role("heading", level=1)).to_have_text("Year-end sheet")
