"""The demo served beside the maker's own shop, opened and closed from their pages."""

from __future__ import annotations

import logging
import threading
from pathlib import Path
from typing import Any

from app.cli.opening import open_or_make, throw_away
from app.config import LOOPBACK, settings_for
from app.core.errors import DomainError
from app.folder import Hold
from app.web.frame.demo import DemoShop

STOPS_AFTER = 0.5
"""Seconds in which the page that closed it still gets its answer."""


class DemoBeside:
    """One demo of this program: closed, being filled, or open at an address of its own.

    ``back_to`` is where the maker's own shop is open; the demo's pages lead there.
    """

    def __init__(self, folder: Path, back_to: str) -> None:
        self._settings, self._back_to = settings_for(folder), back_to
        self._lock = threading.Lock()
        self._filling: threading.Thread | None = None
        self._server: Any = None
        self._hold: Hold | None = None
        self._engine: Any = None
        self._address, self._refusal = "", ""

    def way_in(self) -> str | None:
        """An address that lets one browser in; None while the demo is still being filled.

        Raises :class:`DomainError` where it could not be opened.
        """
        from app.services.access.devices import new_entry

        with self._lock:
            if self._refusal:
                refusal, self._refusal = self._refusal, ""
                raise DomainError(refusal)
            address = self._address or Hold.address_of(self._settings.folder)
            if address:
                return f"{address}enter/{new_entry(self._settings.folder)}"
            if self._filling is None:
                self._filling = threading.Thread(target=self._open, daemon=True)
                self._filling.start()
            return None

    def begin_anew(self) -> None:
        """Throw away what the demo holds; the next visit fills it anew.

        Raises :class:`DomainError` where another program has it open.
        """
        self.close()
        hold = Hold.of(self._settings.folder)
        try:
            throw_away(self._settings)
        finally:
            hold.let_go()

    def close(self) -> None:
        """Serve it no more; what it holds stays for the next time."""
        with self._lock:
            server, self._server, self._address = self._server, None, ""
            hold, self._hold = self._hold, None
            if server is not None:
                server.stop()
                self._engine.dispose()
            if hold is not None:
                hold.let_go()

    def _close_soon(self) -> None:
        threading.Timer(STOPS_AFTER, self.close).start()

    def _open(self) -> None:
        try:
            self._serve()
        except DomainError as error:
            self._refusal = error.message
        except Exception:
            logging.getLogger("tallyfold").exception("the demo could not be opened")
            self._refusal = "The demo could not be opened; the terminal says why."
        finally:
            self._filling = None

    def _serve(self) -> None:
        from cheroot.wsgi import Server

        from app import create_app

        self._settings.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        hold = Hold.of(self._settings.folder)
        try:
            open_or_make(self._settings, demo=True)
            app = create_app(self._settings)
            app.extensions["demo"] = DemoShop(self._back_to, self._close_soon)
            server = Server((LOOPBACK, 0), app, numthreads=8, timeout=5)
            server.error_log = lambda *words, **more: None  # type: ignore[method-assign]
            server.prepare()
        except BaseException:
            hold.let_go()
            raise
        address = f"http://{LOOPBACK}:{server.bind_addr[1]}/"
        hold.say(address)
        with self._lock:
            self._server, self._hold = server, hold
            self._engine, self._address = app.extensions["engine"], address
        threading.Thread(target=server.serve, daemon=True).start()
