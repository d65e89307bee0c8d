"""Every page for everybody: no barrier that axe knows, no sideways scrolling, in both schemes."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import House

pytestmark = pytest.mark.browser

PAGES = (
    "/", "/orders", "/orders/new", "/orders/26", "/journals", "/journals/new", "/journals/4",
    "/journals/5", "/stockroom", "/stockroom/papers/1", "/stockroom/papers/1/sheets/new",
    "/stockroom/items/sheet-1", "/stockroom/items/sheet-1/offers/new", "/stockroom/materials/1",
    "/buying", "/markets", "/markets/1", "/markets/new", "/shop", "/shop/channels/1", "/nowhere",
    "/buying/cutting?what=list&seconds=1", "/journals/1/variants/1/steps",
    "/journals/1/variants/1/map", "/journals/compare?with=1&with=3",
    "/buying/purchases", "/buying/purchases/reorder", "/stockroom/import", "/stockroom/stocktake",
    "/stockroom/batches", "/stockroom/batches/new", "/journals/new?structure=chain_stitch", "/journals/new?structure=parts_list",
    "/buying/cutting/fill?paper=1&width_nm=300&height_nm=420&grain=height&pieces=all",
)  # fmt: skip


def _visit(page: Page, address: str) -> None:
    """Open a page and wait until no plan is in the making, since the page reloads when it ends."""
    page.goto(address)
    expect(page.locator("[data-progress]")).to_have_count(0, timeout=20_000)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(browser: Browser, demo_house: House, scheme: str) -> None:
    context = browser.new_context(color_scheme=scheme, viewport={"width": 1280, "height": 860})  # type: ignore[arg-type]
    # The pages forbid foreign code; axe is let in by the browser, not by the page.
    page = context.new_page()
    found: dict[str, object] = {}
    for path in PAGES:
        _visit(page, demo_house.address + path)
        violations = Axe().run(page).response["violations"]
        if violations:
            found[path] = [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in violations]
    context.close()
    assert found == {}


@pytest.mark.parametrize("width", [360, 390, 640, 1280])
def test_nothing_scrolls_sideways(browser: Browser, demo_house: House, width: int) -> None:
    """640 pixels are what a window of 1280 has at 200% zoom."""
    context = browser.new_context(viewport={"width": width, "height": 800})
    page = context.new_page()
    wide = {}
    for path in PAGES:
        _visit(page, demo_house.address + path)
        needed = page.evaluate("document.documentElement.scrollWidth")
        if needed > width:
            wide[path] = needed
    context.close()
    assert wide == {}


def test_pages_print_without_the_thread(browser: Browser, demo_house: House) -> None:
    page = browser.new_page()
    page.goto(demo_house.address + "/buying")
    page.emulate_media(media="print")
    assert not page.locator("nav.thread").is_visible()
    assert page.get_by_role("heading", level=1).is_visible()
    page.close()
