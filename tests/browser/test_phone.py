"""A second device beside the computer: in by the passphrase over TLS, where it sells and counts."""

from __future__ import annotations

import os
import re
import socket
import ssl
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from app.services.access import passphrase
from app.services.access.devices import Devices
from tests.browser.conftest import PATIENCE
from tests.browser.test_journeys import press
from tests.conftest import settings_on
from tests.test_cli import free_port, wait_for

pytestmark = pytest.mark.browser
PHRASE = "gulls over the mud"


def served_for_a_phone(folder: Path, *more: str) -> tuple[list[str], dict[str, str]]:
    """The command that serves a folder's shop to the home network too, and its environment."""
    env = os.environ | {"TALLYFOLD_DATA": str(folder), "CI": "true", "PYTHONUNBUFFERED": "1"}
    env.pop("DATABASE_URL", None)
    return [sys.executable, "-m", "app", "serve", "--no-open", "--phone", *more], env


@contextmanager
def for_a_phone(folder: Path, port: int) -> Iterator[str]:
    """The shop of a folder, served to the home network too; the address for the phone."""
    own = free_port()
    command, env = served_for_a_phone(folder, "--port", str(own), "--phone-port", str(port))
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True) as server:
        try:
            wait_for(f"http://127.0.0.1:{own}/")
            yield f"https://127.0.0.1:{port}"
        finally:
            server.terminate()
            said, _ = server.communicate(timeout=60)
    assert re.search(rf"opens https://[\d.]+:{port}/", said)
    assert re.search(r"SHA-256 fingerprint: ([0-9A-F]{2}:){31}[0-9A-F]{2}", said)


@contextmanager
def another_site(action: str) -> Iterator[str]:
    """Somebody else's page with a form that is sent to the shop."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            form = f"<form method=post action='{action}'><input name=name value=Evil><button>Win</button></form>"
            self.wfile.write(form.encode())

        def log_message(self, *words: object) -> None:
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Handler)
    worker = threading.Thread(target=server.serve_forever)
    worker.start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    worker.join()
    server.server_close()


def sign_in(page: Page, phrase: str) -> None:
    page.get_by_label("Passphrase").fill(phrase)
    press(page, "Come in")


def test_a_phone_sells_and_counts_and_others_do_not(
    browser: Browser, demo_template: Path, tmp_path: Path
) -> None:
    folder, port = tmp_path / "shop", free_port()
    settings_on(demo_template, folder)
    passphrase.choose(folder, PHRASE, PHRASE)
    with for_a_phone(folder, port) as address:
        context = browser.new_context(
            viewport={"width": 390, "height": 844}, ignore_https_errors=True, has_touch=True
        )
        page = context.new_page()
        page.set_default_timeout(PATIENCE)
        page.goto(f"{address}/markets/1/stall")
        sign_in(page, "gulls over the sea")
        expect(page.locator(".error:visible")).to_contain_text("That is not the passphrase")
        sign_in(page, PHRASE)
        # It sells: the page that was asked for is there, a touch is a stroke, and it is paid.
        page.locator(".touch:enabled").first.tap()
        expect(page.locator(".strokes .begun")).to_have_count(1)
        press(page, "by card")
        expect(page.get_by_role("status")).to_contain_text("Sale ")
        stall = page.url
        # It counts.
        page.goto(f"{address}/stockroom/stocktake")
        page.locator("main input[name^=counted]").first.fill("7")
        why = page.locator("main [name^=why]").first
        if why.evaluate("e => e.tagName") == "SELECT":
            why.select_option(index=1)
        else:
            why.fill("counted at the stall")
        press(page, "Save the counts")
        expect(page.get_by_role("status")).to_be_visible()
        # Another site's page does nothing in its name.
        with another_site(f"{address}/stockroom/suppliers/new") as elsewhere:
            page.goto(elsewhere)
            page.get_by_role("button", name="Win").click()
            expect(page.get_by_role("heading", level=1)).to_have_text("Not from here")
        # An old cookie opens nothing: the browser was ended on the computer.
        page.goto(f"{address}/shop/devices")
        press(page, "End this one")
        expect(page.get_by_role("heading", level=1)).to_have_text("Come in")
        page.goto(stall)
        expect(page.get_by_role("heading", level=1)).to_have_text("Come in")
        context.close()
        assert Devices(folder).all() == []
        _only_over_tls(port)


def _only_over_tls(port: int) -> None:
    """No plain way in beside it, and nothing older than TLS 1.2."""
    with (
        suppress(ConnectionResetError),
        socket.create_connection(("127.0.0.1", port), timeout=10) as plain,
    ):
        plain.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert b"Tallyfold" not in plain.recv(4096)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    with (
        socket.create_connection(("127.0.0.1", port), timeout=10) as raw,
        context.wrap_socket(raw) as encrypted,
    ):
        assert encrypted.version() in ("TLSv1.2", "TLSv1.3")


def test_without_a_passphrase_no_phone_is_let_in(demo_template: Path, tmp_path: Path) -> None:
    settings_on(demo_template, tmp_path)
    command, env = served_for_a_phone(tmp_path, "--port", str(free_port()))
    done = subprocess.run(command, env=env, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert "choose one with “tallyfold passphrase” first" in done.stderr
