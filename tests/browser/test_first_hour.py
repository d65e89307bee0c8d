"""The first hour: from an empty shop to a first price, counted in fields."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import House
from tests.browser.test_journeys import press

pytestmark = pytest.mark.browser
MOST_FIELDS = 20


class Typist:
    """Fills fields by their labels, and counts them."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.fields = 0

    def fill(self, label: str, text: str) -> None:
        self.page.get_by_label(label, exact=True).fill(text)
        self.fields += 1

    def choose(self, label: str, choice: str) -> None:
        self.page.get_by_label(label, exact=True).select_option(label=choice)
        self.fields += 1

    def sold(self, pack_price: str) -> None:
        self.fill("Sold by", "Weir Street Papers")
        self.fill("A pack costs", pack_price)


def test_the_first_price_in_twenty_fields(page: Page, empty_house: House) -> None:
    """Two papers, thread and a pamphlet: whole in cost, with a price in each channel."""
    hand = Typist(page)
    page.goto(empty_house.address)
    for name, weight, size, price in (
        ("Cartridge", "160", "700 x 1000", "0.60"), ("Cover card", "300", "SRA2", "0.90"),
    ):  # fmt: skip
        page.goto(empty_house.address)
        page.get_by_role("link", name="Add a paper").click()
        hand.fill("Name", name)
        hand.fill("Weight", weight)
        hand.fill("Size of a sheet", size)
        hand.choose("Grain runs", "along the height")
        hand.sold(price)
        press(page, "Save the paper")
        expect(page.get_by_text(f"{name} is on the list.")).to_be_visible()
    page.goto(empty_house.address)
    page.get_by_role("link", name="Add thread").click()
    hand.fill("Name", "Linen thread")
    hand.fill("A pack holds", "50 m")
    hand.sold("6")
    press(page, "Save the material")
    page.goto(empty_house.address)
    page.get_by_role("link", name="Draw a journal").click()
    page.get_by_role("link", name="Pamphlet of one signature").click()
    hand.fill("Name of the journal", "Tideline pamphlet")
    hand.choose("Paper of the leaves", "Cartridge")
    hand.choose("Paper of the cover", "Cover card")
    hand.choose("Thread", "Linen thread")
    expect(page.locator("#answer")).to_contain_text(re.compile(r"cost, in a batch of \d+"))
    expect(page.locator("#answer")).to_contain_text("suggested")
    press(page, "Save the journal")
    page.goto(empty_house.address)
    expect(page.locator("#first-steps li.done")).to_have_count(3)
    assert hand.fields <= MOST_FIELDS
