"""From a blank design to the printed template, and from the buy list to numbered cuts."""

from __future__ import annotations

import io
import re

import pdfplumber
import pytest
from playwright.sync_api import Page, expect

from app.core.structures import structures
from tests.browser.conftest import House
from tests.browser.test_journeys import fill, follow, press, station

pytestmark = pytest.mark.browser


def printed(page: Page) -> list[pdfplumber.page.Page]:
    """The templates behind the page's link, as a reader opens them."""
    link = page.locator("main").get_by_role("link", name="Templates to print")
    answer = page.request.get(
        page.url.rsplit("/journals", 1)[0] + (link.get_attribute("href") or "")
    )
    assert answer.headers["content-type"] == "application/pdf"
    return list(pdfplumber.open(io.BytesIO(answer.body())).pages)


def test_a_new_size_from_blank_to_printed_template(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address)
    station(page, "Journals")
    follow(page, "Draw a journal")
    fill(
        page, name="Groyne notebook", leaf_height="13.8 cm", leaf_width="98",
        role_leaves="Cartridge, ivory 150", role_cover="Peat-fibre card 270",
        role_thread="Linen thread 18/3, flax", role_cord="Waxed cotton cord 2 mm",
        role_beads="Sea-glass beads 8 mm",
    )  # fmt: skip
    expect(page.locator("#worked")).to_contain_text("196 × 138 mm")
    expect(page.locator("#worked")).to_contain_text("What a little more does")
    press(page, "Save the journal")
    follow(page, "Steps and templates")
    expect(page.get_by_role("heading", level=1)).to_have_text("Making Groyne notebook")
    expect(page.locator("main")).to_contain_text("Cut 12 folios 196 mm wide and 138 mm high")
    page.locator(".stepper input").first.fill("2")
    expect(page.locator(".said-steps .latest").first).to_have_text(
        "Along the outside to station 1, 44 mm."
    )
    expect(page.locator("line.step-5").first).to_have_class(re.compile("later"))
    sheets = printed(page)
    text = " ".join(sheet.extract_text() for sheet in sheets)
    assert "Groyne notebook, design 1" in text
    assert "25 mm" in text
    assert "113 mm" in text
    level = [abs(line["x1"] - line["x0"]) * 25.4 / 72 for line in sheets[0].lines]
    assert any(abs(length - 100) < 0.1 for length in level)
    page.emulate_media(media="print")
    expect(page.locator(".stepper").first).not_to_be_visible()
    assert len(page.pdf()) > 10_000


@pytest.mark.parametrize("key", [k for k in structures() if k != "wrap_cover"])
def test_every_other_structure_can_be_chosen_and_drawn(
    page: Page, demo_house: House, key: str
) -> None:
    page.goto(demo_house.address + "/journals/new")
    follow(page, structures()[key].name)
    fill(page, name="Tried")
    expect(page.locator("#worked")).to_contain_text("What one costs")
    press(page, "Save the journal")
    expect(page.get_by_role("heading", level=1)).to_have_text("Tried")
    follow(page, "Steps and templates")
    expect(page.get_by_role("heading", level=1)).to_have_text("Making Tried")


def test_from_the_buy_list_to_numbered_cuts(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address)
    station(page, "Buying")
    follow(page, "Cutting plan")
    expect(page.locator("main")).to_contain_text("less than each by itself", timeout=30_000)
    expect(page.locator("svg.drawing .cut-number").first).to_have_text("1")
    plan = page.url
    press(page, "Buy by this plan")
    expect(page.locator(".said")).to_contain_text("The buy list follows this plan")
    # Not back through the browser's history: there the plan is still in the making, and the page
    # shows itself anew while it is being filled in.
    page.goto(plan)
    expect(page.locator("main")).to_contain_text("less than each by itself", timeout=30_000)
    expect(page.locator("[data-progress]")).to_have_count(0)
    page.locator("summary", has_text="What to cut, and what to suppose").click()
    page.get_by_label("Let the grain run either way").check()
    press(page, "Update")
    expect(page.locator("main")).to_contain_text("As things are it would be", timeout=30_000)
    page.locator("details.fold:has(article a) > summary").first.click()
    page.locator("article a").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("What else fits here")


def test_a_count_is_not_lost_by_looking_elsewhere(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/stockroom/stocktake")
    asked: list[str] = []
    page.once("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    page.locator('[name="counted_material-3"]').fill("127")
    page.get_by_label("Of", exact=True).select_option("Papers")
    press(page, "Search")
    assert len(asked) == 1
    expect(page.locator('[name="counted_material-3"]')).to_have_value("127")
    page.once("dialog", lambda dialog: dialog.accept())
    press(page, "Search")
    expect(page.locator('[name="counted_material-3"]')).to_have_count(0)
    press(page, "Search")
    expect(page.get_by_role("heading", name="Papers")).to_be_visible()


def test_enter_in_a_measure_updates_the_figures_and_saves_nothing(
    page: Page, demo_house: House
) -> None:
    page.goto(demo_house.address + "/journals/new")
    fill(page, name="Not yet")
    field = page.locator("[name=leaf_height]")
    field.fill("250 mm")
    field.press("Enter")
    expect(page.locator("#worked")).to_contain_text("240 × 250 mm")
    assert page.url.endswith("/journals/new")
    expect(page.locator("[name=name]")).to_have_value("Not yet")
    expect(page.locator(".said")).to_have_count(0)


@pytest.mark.parametrize(
    ("path", "field", "typed"),
    [("/orders/new", "customer", "Someone new"), ("/journals/1", "leaf_height", "171 mm"),
     ("/stockroom/stocktake", "counted_material-3", "127"), ("/orders/30/change", "note", "Rings")],
)  # fmt: skip
def test_leaving_with_changes_is_asked_and_back_finds_what_was_typed(
    page: Page, demo_house: House, path: str, field: str, typed: str
) -> None:
    page.goto(demo_house.address + "/orders")
    page.goto(demo_house.address + path)
    control = page.locator(f"main [name='{field}']")
    control.click()
    control.fill(typed)
    asked: list[str] = []
    page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.get_by_role("link", name="Markets").first.click(no_wait_after=True)
    expect(control).to_have_value(typed)
    page.wait_for_timeout(200)
    assert asked == ["beforeunload"]
    assert page.url.endswith(path)
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("link", name="Markets").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Markets")
    page.go_back()
    expect(page.locator(f"main [name='{field}']")).to_have_value(typed)


def test_slash_and_escape_never_leave_what_is_typed(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/orders/new")
    fill(page, customer="Someone")
    page.locator("main h1").click()
    page.keyboard.press("/")
    page.locator("[name=customer]").focus()
    page.keyboard.press("Escape")
    page.keyboard.press("/")
    page.wait_for_timeout(200)
    assert page.url.endswith("/orders/new")
    expect(page.locator("[name=customer]")).to_have_value("Someone")
    page.goto(demo_house.address + "/buying")
    opened = page.locator("details.why").first
    opened.locator("summary").click()
    expect(opened).to_have_attribute("open", "")
    page.keyboard.press("Escape")
    expect(opened).not_to_have_attribute("open", "")


def test_a_cancelled_order_is_asked_about_and_comes_back(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/orders/26")
    follow(page, "Cancel the order")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Cancel order 26")
    press(page, "Cancel the order")
    expect(page.locator(".said")).to_contain_text("is cancelled")
    press(page, "Undo the cancellation")
    expect(page.locator(".said")).to_contain_text("is accepted now")
