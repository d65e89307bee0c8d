"""A real browser on a real server: Playwright's own where it has one, else the system's Chromium."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect, sync_playwright
from waitress import create_server

from app import create_app
from app.config import Settings
from tests.conftest import settings_on
from tests.door import way_in

QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
SYSTEM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
PATIENCE = 60_000
"""Milliseconds: a plan is made beside whatever else the machine is busy with; a green run waits for none."""
expect.set_options(timeout=PATIENCE / 2)


def launch(playwright: Playwright) -> Browser | None:
    """Playwright's own browser, else one of the system's, else none."""
    if Path(playwright.chromium.executable_path).exists():
        return playwright.chromium.launch(args=QUIET)
    for name in SYSTEM_NAMES:
        found = shutil.which(name)
        if found:
            return playwright.chromium.launch(executable_path=found, args=QUIET)
    return None


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all journeys; without any they are skipped, or fail where one is needed."""
    with sync_playwright() as playwright:
        launched = launch(playwright)
        if launched is None:
            if os.environ.get("TALLYFOLD_NEEDS_BROWSER"):
                pytest.fail("there is no browser, and this run was told to need one")
            pytest.skip("there is no browser")
        yield launched
        launched.close()


def admit(context: BrowserContext, house: House) -> None:
    """Let a browser in."""
    name, secret = house.cookie
    context.add_cookies([{"name": name, "value": secret, "url": house.address}])


def speak(page: Page, house: House, name: str) -> None:
    """Choose the shop's language, by its own name, as a maker does."""
    page.goto(f"{house.address}/shop")
    page.get_by_label("Language").select_option(name)
    page.get_by_role("button", name="Save the settings").click()
    expect(page.locator("html")).not_to_have_attribute("lang", "en")


@dataclass
class House:
    """A shop that is open at an address, and the cookie that lets a browser in."""

    address: str
    cookie: tuple[str, str]


def _open(settings: Settings) -> Iterator[House]:
    app = create_app(settings)
    server = create_server(app, host="127.0.0.1", port=0, threads=4)
    worker = threading.Thread(target=server.run, daemon=True)
    worker.start()
    yield House(f"http://127.0.0.1:{server.effective_port}", way_in(app))
    # A page may still be asking for something: its answer must find the server open.
    server.task_dispatcher.shutdown(timeout=10)

    def end() -> None:
        # A browser keeps its connections open, and the loop would wait for them.
        server.close()
        for channel in list(server.active_channels.values()):
            channel.handle_close()

    # In its own loop: closed from here, it might be waiting on the socket that goes away.
    server.trigger.pull_trigger(end)
    worker.join(5)
    app.extensions["engine"].dispose()


@pytest.fixture
def empty_house(empty_template: Path, tmp_path: Path) -> Iterator[House]:
    """An empty shop, open."""
    yield from _open(settings_on(empty_template, tmp_path / "empty"))


@pytest.fixture
def demo_house(demo_template: Path, tmp_path: Path) -> Iterator[House]:
    """The demo shop, open."""
    yield from _open(settings_on(demo_template, tmp_path / "demo"))


@contextmanager
def watched(context: BrowserContext) -> Iterator[Page]:
    """A window of a browser; a script or a page that fails fails the test."""
    opened = context.new_page()
    opened.set_default_timeout(PATIENCE)
    problems: list[str] = []
    opened.on("pageerror", lambda error: problems.append(str(error)))
    opened.on("response", lambda r: problems.append(r.url) if r.status >= 500 else None)
    opened.on(
        "console", lambda m: problems.append(m.text) if "Content Security" in m.text else None
    )
    yield opened
    context.close()
    assert problems == []


@pytest.fixture
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A new window, let into the test's house."""
    context = browser.new_context(viewport={"width": 1280, "height": 860})
    for name in {"empty_house", "demo_house"} & set(request.fixturenames):
        admit(context, request.getfixturevalue(name))
    with watched(context) as opened:
        yield opened
