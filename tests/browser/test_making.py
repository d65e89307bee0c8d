"""At the bench in a real browser: a batch begun from a proposal, its clock, and a kill between."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from app.services.access.devices import new_entry
from tests.browser.conftest import House
from tests.browser.test_journeys import fill, follow, press, station
from tests.conftest import settings_on
from tests.test_cli import free_port, wait_for

pytestmark = pytest.mark.browser


@contextmanager
def served(folder: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """The shop of a folder, served by a program of its own; killed at the end."""
    env = os.environ | {"TALLYFOLD_DATA": str(folder), "CI": "true"}
    env.pop("DATABASE_URL", None)
    command = [sys.executable, "-m", "app", "serve", "--port", str(port), "--no-open"]
    with subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL) as server:
        try:
            wait_for(f"http://127.0.0.1:{port}/")
            yield server
        finally:
            server.kill()


def begin_one(page: Page, address: str) -> None:
    page.goto(f"{address}/stockroom/batches/new")
    for field in page.locator("[name^=make_]").all():
        field.fill("")
    page.get_by_label("Curlew daybook, Brown").first.fill("1")
    press(page, "Begin the batch")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Batch")


def test_a_clock_survives_a_kill(page: Page, demo_template: Path, tmp_path: Path) -> None:
    folder, port = tmp_path / "shop", free_port()
    settings_on(demo_template, folder)
    address = f"http://127.0.0.1:{port}"
    with served(folder, port) as server:
        page.goto(f"{address}/enter/{new_entry(folder)}")
        begin_one(page, address)
        batch = page.url
        press(page, "Start")
        expect(page.locator("#work")).to_contain_text("the clock runs")
        server.kill()
        server.wait(10)
    with served(folder, port):
        page.goto(f"{address}/bench")
        expect(page.get_by_text("The clock runs:")).to_be_visible()
        page.goto(batch)
        expect(page.locator("#work")).to_contain_text("the clock runs")
        press(page, "Stop")
        expect(page.get_by_role("status")).to_contain_text("saved")
        expect(page.locator("#work")).not_to_contain_text("the clock runs")


def test_from_a_proposal_to_a_part_delivered_and_one_back(page: Page, demo_house: House) -> None:
    """An enquiry with its honest day, accepted, booked in, set aside, part of it delivered."""
    page.goto(demo_house.address)
    follow(page, "Log an order")
    fill(page, customer="Ines Quayle", wanted_by="2031-05-01")
    line = page.locator("[data-line]").first
    line.locator("[data-variant]").select_option(index=1)
    line.locator("[name$=quantity]").fill("3")
    expect(page.locator("[data-honest]")).to_contain_text("to make", timeout=30_000)
    press(page, "Save the order")
    press(page, "Accept")
    station(page, "Bench")
    expect(page.locator("main")).to_contain_text("Ines Quayle")
    page.go_back()
    order = page.url
    page.goto(order)
    press(page, "Book in 3 made without a batch, and mark as ready")
    expect(page.get_by_role("status")).to_contain_text("is ready now")
    follow(page, "Deliver a part of it")
    page.locator("[name^=deliver_]").first.fill("2")
    press(page, "Save the delivery")
    expect(page.get_by_role("status")).to_contain_text("2 delivered.")
    follow(page, "Something came back")
    fill(page, quantity="1", why="a knot came undone", replaced="gets others instead",
         sound="not to be sold again")  # fmt: skip
    press(page, "Take it back")
    expect(page.locator("main")).to_contain_text("a knot came undone")
    expect(page.locator("#lacking")).to_contain_text("Not ready yet")
