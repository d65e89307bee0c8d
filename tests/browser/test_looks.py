"""Every page for everybody: no barrier that axe knows, no sideways scrolling, in both schemes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import PATIENCE, House, admit, speak

pytestmark = pytest.mark.browser

PAGES = (
    "/", "/orders", "/orders/customers", "/orders/customers/1", "/orders/26/cancel", "/orders/new", "/orders/26", "/journals", "/journals/new", "/journals/4",
    "/journals/5", "/stockroom", "/stockroom/papers/1", "/stockroom/papers/1/sheets/new",
    "/stockroom/items/sheet-1", "/stockroom/items/sheet-1/makes", "/stockroom/items/sheet-1/offers/new", "/stockroom/materials/1",
    "/buying", "/markets", "/markets/1", "/markets/1/stall", "/markets/1/packing", "/markets/1/papers", "/markets/1/close", "/markets/1/earned", "/markets/new", "/takings", "/takings?by=month", "/takings/sales?by=market&key=0", "/takings/what-if", "/takings/year", "/takings/stock?shelf=papers", "/takings/costs", "/takings/costs/new", "/help", "/help/new", "/shop", "/shop/channels/1", "/nowhere",
    "/buying/cutting?what=list&effort=live", "/journals/1/variants/1/steps",
    "/journals/1/variants/1/pictures", "/journals/1/variants/1/map", "/journals/1/variants/1/cheaper", "/journals/1/variants/1/first-batch", "/journals/compare?with=1&with=3",
    "/buying/purchases", "/buying/purchases/reorder", "/stockroom/import", "/stockroom/stocktake",
    "/stockroom/batches", "/stockroom/batches/new", "/stockroom/batches/1/ticket", "/orders/26/papers", "/orders/papers/1", "/shop/papers", "/shop/backups", "/shop/devices", "/journals/new?structure=chain_stitch", "/journals/new?structure=parts_list",
    "/buying/cutting/fill?paper=1&width_nm=300&height_nm=420&grain=height&pieces=all",
)  # fmt: skip


def _visit(page: Page, address: str) -> None:
    """Open a page and wait until no plan is in the making, since the page reloads when it ends."""
    page.goto(address)
    expect(page.locator("[data-progress]")).to_have_count(0, timeout=PATIENCE)


def _barriers(page: Page) -> list[object]:
    """What axe finds in the light scheme; in the dark one what can differ there, the contrast."""
    page.emulate_media(color_scheme="light")
    violations = Axe().run(page).response["violations"]
    page.emulate_media(color_scheme="dark")
    contrast = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}
    violations += Axe().run(page, options=contrast).response["violations"]
    return [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in violations]


def _too_wide(page: Page, widths: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Windows that the page would have to be scrolled in, and how wide it is there."""
    for width in widths:
        page.set_viewport_size({"width": width, "height": 844})
        needed = page.evaluate("document.documentElement.scrollWidth")
        if needed > width:
            yield width, needed


HALVES = pytest.mark.parametrize("pages", [PAGES[::2], PAGES[1::2]], ids=["even", "odd"])
"""Half of the pages each, so that two workers share them."""


@HALVES
def test_axe_finds_nothing(browser: Browser, demo_house: House, pages: list[str]) -> None:
    context = browser.new_context(color_scheme="light", viewport={"width": 1280, "height": 860})
    admit(context, demo_house)
    # The pages forbid foreign code; axe is let in by the browser, not by the page.
    page = context.new_page()
    found: dict[str, object] = {}
    for path in pages:
        _visit(page, demo_house.address + path)
        if barriers := _barriers(page):
            found[path] = barriers
    context.close()
    assert found == {}


@HALVES
def test_nothing_scrolls_sideways(browser: Browser, demo_house: House, pages: list[str]) -> None:
    """640 pixels are what a window of 1280 has at 200% zoom, 320 what it has at 400%; 768 a tablet."""
    page = browser.new_page()
    admit(page.context, demo_house)
    wide = {}
    for path in pages:
        _visit(page, demo_house.address + path)
        found = _too_wide(page, (1280, 1024, 768, 640, 390, 360, 320))
        wide |= {(path, width): needed for width, needed in found}
    page.close()
    assert wide == {}


@pytest.mark.parametrize("name", ["Deutsch", "Français"])
def test_another_language_is_for_everybody_too(
    browser: Browser, demo_house: House, name: str
) -> None:
    """Its words are longer: no barrier in either scheme, no sideways scrolling, and the
    station of the page in sight on a phone.
    """
    context = browser.new_context(color_scheme="light", viewport={"width": 1280, "height": 860})
    admit(context, demo_house)
    page = context.new_page()
    speak(page, demo_house, name)
    found: dict[object, object] = {}
    for path in PAGES:
        page.set_viewport_size({"width": 1280, "height": 860})
        _visit(page, demo_house.address + path)
        if barriers := _barriers(page):
            found[path] = barriers
        found |= {(path, width): needed for width, needed in _too_wide(page, (768, 390, 360, 320))}
        page.set_viewport_size({"width": 390, "height": 844})
        _visit(page, demo_house.address + path)
        if page.evaluate(STATION_OUT_OF_SIGHT):
            found[path, "station"] = "out of sight"
    context.close()
    assert found == {}


STATION_OUT_OF_SIGHT = """() => {
  const box = document.querySelector(".thread [aria-current]")?.getBoundingClientRect();
  return box && (box.left < 0 || box.right > innerWidth);
}"""


@HALVES
def test_from_right_to_left_nothing_is_out_of_place(
    browser: Browser, demo_house: House, pages: list[str]
) -> None:
    """Pages of a language that is written the other way: mirrored, none wider than its window.

    What starts a line begins at its right edge: the thread of the stations, heads and paragraphs.
    """
    context = browser.new_context()
    admit(context, demo_house)
    page = context.new_page()
    page.add_init_script(
        "document.addEventListener('DOMContentLoaded', () => document.documentElement.dir = 'rtl')"
    )
    wrong: dict[object, object] = {}
    for path in pages:
        _visit(page, demo_house.address + path)
        wrong |= {(path, width): needed for width, needed in _too_wide(page, (390, 320, 1280))}
        wrong |= {(path, e): "left" for e in page.evaluate(AT_THE_LEFT)}
    context.close()
    assert wrong == {}


AT_THE_LEFT = """() => [...document.querySelectorAll("h1, main > p, main p, th:first-child")]
  .filter((e) => !e.closest("svg, .n, .big-figure") && getComputedStyle(e).textAlign === "left")
  .map((e) => e.outerHTML.slice(0, 60)).concat(
    document.querySelector("nav.thread")?.getBoundingClientRect().left < innerWidth / 2
      ? ["the thread"] : [])"""
HEIGHT = "document.documentElement.scrollHeight"
SIX_SCREENS = 6 * 844


@HALVES
def test_no_page_is_longer_than_six_screens_of_a_phone(
    browser: Browser, demo_house: House, pages: list[str]
) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    admit(context, demo_house)
    page = context.new_page()
    long = {}
    for path in pages:
        _visit(page, demo_house.address + path)
        high = page.evaluate(HEIGHT)
        if high > SIX_SCREENS:
            long[path] = high
    context.close()
    assert long == {}


@HALVES
def test_pages_print_without_fields_and_buttons(
    browser: Browser, demo_house: House, pages: list[str]
) -> None:
    """On paper no thread, no button and no box of a field; what is typed in one is text."""
    context = browser.new_context()
    admit(context, demo_house)
    page = context.new_page()
    page.emulate_media(media="print")
    left = {}
    for path in pages:
        _visit(page, demo_house.address + path)
        found = page.evaluate(
            """() => [...document.querySelectorAll("nav.thread, button, .deed, input, select")]
              .filter((e) => e.checkVisibility({ visibilityProperty: true }) && (
                e.matches("nav, button, .deed")
                || e.type !== "checkbox" && getComputedStyle(e).borderTopWidth !== "0px"))
              .map((e) => e.outerHTML.slice(0, 80))"""
        )
        if found or not page.get_by_role("heading", level=1).first.is_visible():
            left[path] = found
    context.close()
    assert left == {}
