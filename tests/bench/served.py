"""A shop served by a program of its own, and a browser to it, for the benches of faults."""

from __future__ import annotations

import http.client
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode, urlsplit

from app.services.access.devices import new_entry
from tests.test_cli import free_port

TOKEN = re.compile(r'name="csrf_token" value="([^"]+)"')


class Served:
    """A running shop: where, and its process."""

    def __init__(self, folder: Path, *before: str, env: Mapping[str, str] | None = None) -> None:
        self.folder, self.port = folder, free_port()
        self.log = tempfile.TemporaryFile("w+")  # noqa: SIM115 - closed in kill
        around = os.environ | {"TALLYFOLD_DATA": str(folder), "CI": "true", "PYTHONUNBUFFERED": "1"}
        around.pop("DATABASE_URL", None)
        self.process = subprocess.Popen(
            [*before, sys.executable, "-m", "app", "serve", "--port", str(self.port), "--no-open"],
            env=around | dict(env or {}), stdout=self.log, stderr=self.log, start_new_session=True,
        )  # fmt: skip
        self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + 60
        while time.monotonic() < until:
            if self.process.poll() is not None:
                self.log.seek(0)
                raise AssertionError(f"it did not start: {self.log.read()}")
            try:
                Browser(self.port).ask("GET", "/nowhere")
            except OSError:
                time.sleep(0.02)
            else:
                return
        raise AssertionError("it did not answer within a minute")

    def browser(self) -> Browser:
        """One that was let in."""
        made = Browser(self.port)
        status, _, _ = made.ask("GET", f"/enter/{new_entry(self.folder)}")
        assert status == 302, status
        return made

    def kill(self, with_signal: int = signal.SIGKILL) -> None:
        """End it, and wait until it has ended."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, with_signal)
        self.process.wait(30)
        self.log.close()


@contextmanager
def served(folder: Path, *before: str, env: Mapping[str, str] | None = None) -> Iterator[Served]:
    """A running shop, ended politely."""
    running = Served(folder, *before, env=env)
    try:
        yield running
    finally:
        running.kill(signal.SIGTERM)


class Browser:
    """Keeps cookies and the key against forgery; one connection at a time."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.cookies: dict[str, str] = {}
        self.token = ""
        self._connection: http.client.HTTPConnection | None = None

    def ask(
        self, method: str, path: str, body: str | None = None, **headers: str
    ) -> tuple[int, str, str]:
        """Status, the address it leads to, and the page."""
        if self._connection is None:
            self._connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        words = {"Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items()), **headers}
        if body is not None:
            words["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            self._connection.request(method, path, body, words)
            answer = self._connection.getresponse()
            page = answer.read().decode(errors="replace")
        except (OSError, http.client.HTTPException):
            self._connection.close()
            self._connection = None
            raise
        for cookie in answer.headers.get_all("Set-Cookie") or ():
            name, _, value = cookie.partition(";")[0].partition("=")
            self.cookies[name] = value
        return answer.status, urlsplit(answer.headers.get("Location", "")).path, page

    def post(self, path: str, **values: str) -> tuple[int, str, str]:
        """Send a form; its key is that of the newest page."""
        if not self.token:
            self.look("/shop/backups")
        return self.ask("POST", path, urlencode({"csrf_token": self.token, **values}))

    def look(self, path: str) -> str:
        """Open a page."""
        status, _, page = self.ask("GET", path)
        assert status == 200, (path, status)
        found = TOKEN.search(page)
        if found:
            self.token = found[1]
        return page
