"""A page that was open while the shop changed, or went away, says so and loses nothing."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import House
from tests.browser.test_journeys import press

pytestmark = pytest.mark.browser
NAME = "/journals/1/name"


def come_back(page: Page) -> None:
    """The window gets the focus again, as when one comes back to it."""
    page.evaluate("dispatchEvent(new Event('focus'))")


def test_a_page_that_is_old_says_so_and_is_shown_anew(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + NAME)
    pulse = page.locator("[data-pulse]")
    come_back(page)
    expect(pulse).to_be_empty()
    other = page.context.new_page()
    other.goto(demo_house.address + NAME)
    other.get_by_label("Name", exact=True).fill("Dunlin journal")
    press(other, "Save the name")
    expect(other.locator(".said")).to_contain_text("Saved.")
    # The page that did it is not old.
    come_back(other)
    expect(other.locator("[data-pulse]")).to_be_empty()
    come_back(page)
    expect(pulse).to_contain_text("its figures may be old")
    pulse.get_by_role("link", name="Show them anew").click()
    expect(page.get_by_label("Name", exact=True)).to_have_value("Dunlin journal")
    expect(pulse).to_be_empty()


def test_a_lost_connection_is_said_and_what_is_typed_is_kept(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + NAME)
    name = page.get_by_label("Name", exact=True)
    name.fill("Dunlin journal")
    page.context.set_offline(True)
    pulse = page.locator("[data-pulse]")
    expect(pulse).to_contain_text("The shop does not answer")
    press(page, "Save the name")
    expect(pulse).to_be_focused()
    assert page.url.endswith(NAME)
    expect(name).to_have_value("Dunlin journal")
    page.context.set_offline(False)
    expect(pulse).to_be_empty()
    press(page, "Save the name")
    expect(page.locator(".said")).to_contain_text("Saved.")


def test_figures_that_cannot_be_worked_out_anew_are_told_to_be_old(
    page: Page, demo_house: House
) -> None:
    page.goto(demo_house.address + "/journals/1")
    page.context.set_offline(True)
    page.get_by_label("Height", exact=True).fill("150")
    expect(page.locator("#refusal")).to_contain_text("What you typed is still here")
    expect(page.locator("#worked")).to_have_attribute("aria-busy", "true")
    expect(page.locator("[data-pulse]")).to_contain_text("the figures are those of")
    page.context.set_offline(False)
    page.get_by_label("Height", exact=True).fill("150 mm")
    expect(page.locator("#worked")).to_have_attribute("aria-busy", "false", timeout=30_000)


def test_a_computer_without_any_network_still_reaches_its_own_shop(
    page: Page, demo_house: House
) -> None:
    page.add_init_script("Object.defineProperty(navigator, 'onLine', { get: () => false })")
    page.goto(demo_house.address + NAME)
    page.get_by_label("Name", exact=True).fill("Dunlin journal")
    press(page, "Save the name")
    expect(page.locator(".said")).to_contain_text("Saved.")
