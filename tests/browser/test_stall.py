"""A stall on a phone's screen: sold, undone, through a crash, closed, and what an hour earned."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from app.services.access.devices import new_entry
from tests.browser.conftest import PATIENCE
from tests.browser.test_journeys import fill, follow, press
from tests.browser.test_making import served
from tests.conftest import settings_on
from tests.test_cli import free_port

pytestmark = pytest.mark.browser


def prepare(page: Page, address: str) -> None:
    """A market of today with two journals on its list."""
    page.goto(f"{address}/markets/new")
    fill(page, name="Lammas Yard", day=date.today().isoformat(), stall_fee="25", travel="6")
    press(page, "Save the market")
    takes = page.locator("main [name^=take-]")
    for number in (0, 1, 2, 3):
        takes.nth(number).fill("2")
    press(page, "Save the list")


def test_a_stall_through_a_crash_to_what_an_hour_earned(
    browser: Browser, demo_template: Path, tmp_path: Path
) -> None:
    folder, port = tmp_path / "shop", free_port()
    settings_on(demo_template, folder)
    address = f"http://127.0.0.1:{port}"
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    page.set_default_timeout(PATIENCE)
    with served(folder, port) as server:
        page.goto(f"{address}/enter/{new_entry(folder)}")
        prepare(page, address)
        follow(page, "Sell at the stall")
        touches = page.locator(".touch:enabled")
        touches.first.tap()
        expect(page.locator(".strokes .begun")).to_have_count(1)
        press(page, "Paid in cash")
        expect(page.get_by_role("status")).to_contain_text(re.compile(r"Sale \d+:"))
        touches.first.tap()
        touches.last.tap()
        expect(page.locator(".strokes .begun")).to_have_count(2)
        server.kill()
        server.wait(10)
    with served(folder, port):
        # What was touched is there after the crash, red still.
        page.reload()
        expect(page.locator(".strokes .begun")).to_have_count(2)
        press(page, "by card")
        expect(page.get_by_role("status")).to_contain_text(re.compile(r"Sale \d+:"))
        page.get_by_text("Undo the last sale?").click()
        page.get_by_role("button", name=re.compile(r"Undo sale \d+")).click()
        expect(page.get_by_role("status")).to_contain_text("is undone")
        expect(page.locator(".running")).to_contain_text("1 sold")
        follow(page, "Lammas Yard")
        follow(page, "Close the day")
        fill(page, float_cash="40", stall_hours="5", travel_hours="1")
        press(page, "Close the day")
        expect(page.locator(".answer")).to_contain_text("an hour")
        taken = page.locator("tr", has_text="Taken").locator("td").last.inner_text()
        page.goto(f"{address}/takings?by=market")
        expect(page.locator(".takings tbody tr", has_text="Lammas Yard, ")).to_contain_text(taken)
    context.close()
