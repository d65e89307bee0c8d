"""What a maker does, from the first click to the last, in an empty shop and on the demo."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import House

pytestmark = pytest.mark.browser


def fill(page: Page, **fields: str) -> None:
    """Type into fields by their names, in groups that are folded once these are opened."""
    for name, value in fields.items():
        control = page.locator(f"main [name='{name.replace('__', '-')}']").first
        folded = control.locator("xpath=ancestor::details[not(@open)]/summary")
        if folded.count():
            folded.first.click()
        if control.evaluate("e => e.tagName") == "SELECT":
            control.select_option(label=value)
        else:
            control.fill(value)


def press(page: Page, words: str) -> None:
    """Press a button by what it says."""
    page.get_by_role("button", name=words, exact=True).first.click()


def follow(page: Page, words: str) -> None:
    """Follow a link by what it says."""
    page.locator("main").get_by_role("link", name=words, exact=True).first.click()


def station(page: Page, words: str) -> None:
    """Go along the thread."""
    page.get_by_role("navigation", name="Stations").get_by_role("link", name=words).click()


def in_days(days: int) -> str:
    return (date.today() + timedelta(days=days)).isoformat()


def offer(page: Page, pack: str, price: str, supplier: str = "") -> None:
    """From a thing's page: add an offer, of a new supplier where one is named."""
    follow(page, "Add an offer")
    if supplier:
        fill(page, supplier="– a new one –", new_supplier=supplier)
    fill(page, pack_quantity=pack, pack_price=price, lead_days="4")
    press(page, "Save the offer")


def stock_an_empty_shop(page: Page, house: House) -> None:
    """Settings, two papers with a sheet each, thread, cord and beads, all on offer."""
    page.goto(house.address)
    follow(page, "Say what your hour costs")
    fill(page, name="Corner bindery", currency="GBP (£)", pay_per_hour="15")
    press(page, "Save the settings")
    for name, weight, thick, width, height, price in (
        ("Laid 120", "120", "0.14", "640", "900", "20.00"),
        ("Card 250", "250", "0.3", "500", "700", "12.00"),
    ):
        station(page, "Stockroom")
        follow(page, "Add a paper")
        fill(page, name=name, grammage=weight, caliper_nm=thick)
        press(page, "Save the paper")
        fill(page, width_nm=width, height_nm=height, grain="along the height")
        press(page, "Save the size")
        offer(page, "25", price, "" if name != "Laid 120" else "Mill Lane Papers")
    for name, measured, pack, price in (
        ("Linen thread", "by length (thread, cord, ribbon)", "50 m", "5.40"),
        ("Waxed cord", "by length (thread, cord, ribbon)", "25 m", "6.25"),
        ("Glass beads", "by count (beads, rings, buttons)", "60", "7.20"),
    ):
        station(page, "Stockroom")
        follow(page, "Add a material")
        fill(page, name=name, measure=measured)
        press(page, "Save the material")
        offer(page, pack, price)


def draw_a_journal(
    page: Page, name: str, papers: tuple[str, str], findings: tuple[str, ...]
) -> None:
    """Draw a new size, watch its cost follow, ask a price, keep it."""
    station(page, "Journals")
    follow(page, "Draw a journal")
    fill(page, name=name, leaf_height="150", leaf_width="110")
    thread, cord, beads = findings
    fill(page, role_leaves=papers[0], role_cover=papers[1], role_thread=thread, role_cord=cord,
         role_beads=beads)  # fmt: skip
    worked = page.locator("#worked")
    expect(worked).to_contain_text("What one costs, in a batch of 12")
    expect(worked).to_contain_text("One folio laid flat, 12 of them: 220 × 150 mm")
    expect(worked).not_to_contain_text("Left out of the cost")
    cost = worked.locator("tr.sum", has_text="Cost").inner_text()
    fill(page, folios="6")
    expect(worked).to_contain_text("3 signatures of 6 folios")
    assert worked.locator("tr.sum", has_text="Cost").inner_text() != cost
    fill(page, price_1="41.50")
    expect(worked).to_contain_text("41.50")
    press(page, "Save the journal")
    expect(page.get_by_role("status")).to_contain_text("is saved as design 1")
    expect(page.get_by_role("heading", level=1)).to_have_text(name)


def log_an_order(page: Page, variant: str, quantity: str) -> None:
    """Log an order, with a deposit, and agree it."""
    station(page, "Orders")
    follow(page, "Log an order")
    fill(page, customer="Ottilie Brand", wanted_by=in_days(40))
    fill(page, lines__0__variant=variant)
    expect(page.locator("[data-says]")).to_contain_text("Asked £41.50")
    fill(
        page,
        lines__0__quantity=quantity,
        lines__0__asked_for="initials O.B.",
        deposit="20",
        deposit_how="cash",
    )
    press(page, "Save the order")
    expect(page.get_by_role("status")).to_contain_text("is saved")
    press(page, "Accept")
    expect(page.get_by_role("status")).to_contain_text("is accepted now")
    expect(page.locator("main")).to_contain_text("20.00")


def plan_a_market(page: Page, take: dict[str, str]) -> None:
    """Put a market in the calendar and say what to take."""
    station(page, "Markets")
    follow(page, "Add a market")
    fill(page, name="Harbour day", day=in_days(50), stall_fee="35")
    press(page, "Save the market")
    for variant, number in take.items():
        page.get_by_label(variant, exact=True).fill(number)
    press(page, "Save the list")
    expect(page.get_by_role("status")).to_contain_text("The list is saved")
    expect(page.locator("main")).to_contain_text("sold pay for the day")


def test_an_empty_shop_from_size_to_buy_list(page: Page, empty_house: House) -> None:
    stock_an_empty_shop(page, empty_house)
    draw_a_journal(
        page, "Quay notebook", ("Laid 120", "Card 250"),
        ("Linen thread", "Waxed cord", "Glass beads"),
    )  # fmt: skip
    log_an_order(page, "Quay notebook, Plain", "10")
    plan_a_market(page, {"Quay notebook, Plain": "14"})
    station(page, "Buying")
    main = page.locator("main")
    # 24 journals of 18 folios, 3% on top: 445 folios at 12 from a 640 × 900 sheet, 38 sheets.
    expect(main).to_contain_text(
        "Buy 2 packs of 25 sheets, 640 × 900 mm, from Mill Lane Papers: £40.00"
    )
    row = page.locator("tr", has_text="Laid 120, 640 × 900 mm").first
    expect(row).to_contain_text("Order 1, Ottilie Brand")
    expect(row).to_contain_text("Harbour day")
    page.get_by_label(re.compile("Harbour day")).uncheck()
    press(page, "Update")
    expect(main).to_contain_text("Buy 1 pack of 25 sheets, 640 × 900 mm")
    expect(page.locator("table.rows").first).not_to_contain_text("Harbour day")
    row = page.locator("tr", has_text="Laid 120, 640 × 900 mm").first
    row.get_by_role("link", name="Order 1, Ottilie Brand").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Order 1, Ottilie Brand")


def test_the_demo_from_size_to_buy_list(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address)
    station(page, "Buying")
    before = page.locator(".big").inner_text()
    draw_a_journal(
        page, "Quay notebook", ("Cartridge, ivory 150", "Peat-fibre card 270"),
        ("Linen thread 18/3, flax", "Waxed cotton cord 2 mm", "Sea-glass beads 8 mm"),
    )  # fmt: skip
    log_an_order(page, "Quay notebook, Plain", "10")
    plan_a_market(page, {"Quay notebook, Plain": "14", "Reed pocket book, Reeds": "2"})
    station(page, "Buying")
    assert page.locator(".big").inner_text() != before
    row = page.locator("tr", has_text="Cartridge, ivory 150, 640 × 900 mm").first
    expect(row).to_contain_text("Order 31, Ottilie Brand")
    expect(row).to_contain_text("Harbour day")
    plan = page.locator("section", has=page.get_by_role("heading", name="Cartridge, ivory 150"))
    expect(plan).to_contain_text("Quay notebook, Plain, design 1")
    expect(plan).to_contain_text(re.compile(r"Buy \d+ packs? of 25 sheets, 640 × 900 mm"))


def test_the_keyboard_alone_logs_an_order(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/orders/new")
    keys = page.keyboard
    keys.type("Wilma")
    for _ in range(3):
        keys.press("Tab")
    keys.type("Estuary sketch journal, Brown")
    keys.press("Tab")
    keys.type("2")
    keys.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("is saved")
    expect(page.locator("main")).to_contain_text("92.00")


def test_a_refused_form_keeps_everything(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/markets/new")
    fill(page, name="Moon fair", place="Behind the moon", day=in_days(9), stall_fee="a lot")
    press(page, "Save the market")
    expect(page.locator("#stall_fee-error")).to_contain_text("“a lot” is not a number")
    expect(page.locator("[name=place]")).to_have_value("Behind the moon")
    fill(page, stall_fee="12,50")
    press(page, "Save the market")
    expect(page.locator("main")).to_contain_text("stall £12.50")


def test_a_half_typed_length_is_told_while_typing(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/journals/1")
    fill(page, leaf_height="16 furlongs")
    expect(page.locator("#leaf_height-error")).to_contain_text("no unit this field knows")
    fill(page, leaf_height="6 1/4 in")
    expect(page.locator("#leaf_height-error")).to_be_hidden()
    expect(page.locator("#worked")).to_contain_text("240 × 158.75 mm")
    fill(page, leaf_height="152")
    expect(page.locator("#worked")).to_contain_text("10 folios from a 560 × 760 mm sheet")


def test_slash_goes_to_the_search(page: Page, demo_house: House) -> None:
    page.goto(demo_house.address + "/orders")
    page.keyboard.press("/")
    page.keyboard.type("lomas")
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("1 order")
    expect(page.locator("main")).to_contain_text("Beatriz Lomas")
