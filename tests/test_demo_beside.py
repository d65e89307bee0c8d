"""The demo opened from the maker's own shop, closed again, filled anew; a program of its own."""

from __future__ import annotations

import json
import os
import re
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.parse import urlencode, urlsplit

import pytest

from app.cli.demo_beside import DemoBeside
from app.core.errors import DomainError
from app.services.access.devices import new_entry
from tests.test_cli import RUN, free_port, wait_for

PATIENCE = 90


@dataclass
class Browser:
    """Keeps cookies and follows where it is led, as a browser does."""

    opener: urllib.request.OpenerDirector = field(
        default_factory=lambda: urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    )

    def get(self, url: str, data: dict[str, str] | None = None) -> tuple[str, str, str]:
        """Where it ended, the page, and its content policy."""
        body = urlencode(data).encode() if data is not None else None
        with self.opener.open(url, body, timeout=60) as answer:
            policy = answer.headers["Content-Security-Policy"]
            return answer.url, answer.read().decode(), policy


@contextmanager
def own_shop(home: Path) -> Iterator[tuple[str, Browser]]:
    port = free_port()
    env = os.environ | {"TALLYFOLD_DATA": str(home), "CI": "true", "PYTHONUNBUFFERED": "1"}
    env.pop("DATABASE_URL", None)
    command = [*RUN, "serve", "--port", str(port), "--no-open"]
    with subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL) as server:
        try:
            shop = f"http://127.0.0.1:{port}/"
            wait_for(shop)
            browser = Browser()
            browser.get(f"{shop}enter/{new_entry(home)}")
            yield shop, browser
        finally:
            server.terminate()
            server.wait(20)


def into_the_demo(browser: Browser, shop: str) -> tuple[str, str, str]:
    until = time.monotonic() + PATIENCE
    while True:
        found = browser.get(f"{shop}demo")
        if not found[0].startswith(shop) or time.monotonic() > until:
            return found
        assert "is being filled" in found[1]
        time.sleep(0.3)


def value_on(page: str, name: str) -> str:
    """What a hidden field of a page holds."""
    found = re.search(rf'name="{name}"[^>]*value="([^"]+)"', page)
    assert found
    return found[1]


def sent_from(page: str, *names: str) -> dict[str, str]:
    return {name: value_on(page, name) for name in ("csrf_token", *names)}


def test_the_demo_is_one_click_away_and_one_click_gone(tmp_path: Path) -> None:
    with own_shop(tmp_path) as (shop, browser):
        assert 'href="/demo"' in browser.get(shop)[1]
        demo, page, policy = into_the_demo(browser, shop)
        assert urlsplit(demo).port != urlsplit(shop).port
        assert "This shop is invented" in page
        assert "Saltmarsh Bindery" in page
        # Closing it leads back to the shop, which its policy has to let through.
        assert f"form-action 'self' {shop.rstrip('/')};" in policy
        # The own shop stays as empty as it was, and knows that it is no demo.
        own = browser.get(shop)[1]
        assert "This shop is invented" not in own
        assert "The first price, and the first buy list" in own
        # A second visit leads into the same one.
        assert into_the_demo(browser, shop)[0] == demo
        held = json.loads((tmp_path / "demo" / "held.json").read_text())
        assert held["address"] == demo
        back, page, _ = browser.get(f"{demo}demo/close", sent_from(page))
        assert (back, "The first price" in page) == (shop, True)
        assert "The demo is closed." in page
        time.sleep(3)
        with pytest.raises(URLError):
            browser.get(demo)
        assert not (tmp_path / "demo" / "held.json").exists()


def test_the_demo_keeps_what_was_typed_until_it_is_filled_anew(tmp_path: Path) -> None:
    with own_shop(tmp_path) as (shop, browser):
        demo, _, _ = into_the_demo(browser, shop)
        _, page, _ = browser.get(f"{demo}journals/1/name")
        typed = sent_from(page, "once", "version")
        browser.get(f"{demo}journals/1/name", typed | {"name": "My own try", "note": ""})
        closing = sent_from(browser.get(demo)[1])
        browser.get(f"{demo}demo/close", closing)
        time.sleep(1)
        again, _, _ = into_the_demo(browser, shop)
        assert "My own try" in browser.get(f"{again}journals")[1]
        _, page, _ = browser.get(f"{shop}demo/anew")
        browser.get(f"{shop}demo/anew", sent_from(page, "once"))
        fresh, _, _ = into_the_demo(browser, shop)
        assert "My own try" not in browser.get(f"{fresh}journals")[1]


def test_a_demo_that_another_program_serves_is_found_there(tmp_path: Path) -> None:
    port = free_port()
    env = os.environ | {"TALLYFOLD_DATA": str(tmp_path), "CI": "true"}
    command = [*RUN, "demo", "--port", str(port), "--no-open"]
    with subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL) as server:
        try:
            wait_for(f"http://127.0.0.1:{port}/")
            with own_shop(tmp_path) as (shop, browser):
                demo, page, _ = into_the_demo(browser, shop)
                assert demo == f"http://127.0.0.1:{port}/"
                # What serves it closes it; from here it is neither closed nor emptied.
                assert "“tallyfold serve” opens your own" in page
                _, page, _ = browser.get(f"{shop}demo/anew")
                asked = sent_from(page, "once")
                with pytest.raises(HTTPError) as refused:
                    browser.get(f"{shop}demo/anew", asked)
                assert refused.value.code == 422
                assert "open already" in refused.value.read().decode()
        finally:
            server.terminate()
            server.wait(20)


@pytest.mark.parametrize("harm", ["a file in its place", "a key that is none", "no database"])
def test_a_demo_that_is_spoiled_harms_no_shop_and_is_filled_anew(tmp_path: Path, harm: str) -> None:
    folder = tmp_path / "demo"
    if harm == "a file in its place":
        folder.write_text("")
    else:
        folder.mkdir(mode=0o700)
        name = "form.key" if harm == "a key that is none" else "shop.sqlite3"
        (folder / name).write_bytes(b"\xff" * 64)
        (folder / name).chmod(0o600)
    beside = DemoBeside(folder, "http://127.0.0.1:1/")
    with pytest.raises(DomainError):
        wait_in(beside)
    beside.begin_anew()
    try:
        assert "/enter/" in wait_in(beside)
    finally:
        beside.close()


def wait_in(beside: DemoBeside) -> str:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        if found := beside.way_in():
            return found
        time.sleep(0.1)
    raise AssertionError("the demo was not filled")


def test_the_demo_is_closed_while_it_is_filled_and_opened_at_once_again(tmp_path: Path) -> None:
    beside = DemoBeside(tmp_path / "demo", "http://127.0.0.1:1/")
    assert beside.way_in() is None
    beside.begin_anew()
    first = wait_in(beside)
    beside._close_soon()
    second = wait_in(beside)
    assert first.split("/enter/")[0] != second.split("/enter/")[0]
    beside.close()
    assert not (tmp_path / "demo" / "held.json").exists()
