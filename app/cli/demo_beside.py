"""The demo served beside the maker's own shop, opened and closed from their pages."""

from __future__ import annotations

import logging
import shutil
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.cli.opening import open_or_make
from app.config import LOOPBACK, settings_for
from app.core.errors import DomainError
from app.folder import Hold
from app.language import say, to_say
from app.web.frame.demo import DemoShop

STOPS_AFTER = 0.5
"""Seconds in which the page that closed it still gets its answer."""


class DemoBeside:
    """One demo of this program: closed, being filled, or open at an address of its own.

    ``back_to`` is where the maker's own shop is open; the demo's pages lead there.
    """

    def __init__(self, folder: Path, back_to: str) -> None:
        self._folder, self._back_to = folder, back_to
        self._lock = threading.Lock()
        self._filling: threading.Thread | None = None
        self._closing: threading.Timer | None = None
        self._served: _Served | None = None
        self._refusal = ""

    def way_in(self) -> str | None:
        """An address that lets one browser in; None while the demo is still being filled.

        Raises :class:`DomainError` where it could not be opened.
        """
        from app.services.access.devices import new_entry

        with self._lock:
            if self._refusal:
                refusal, self._refusal = self._refusal, ""
                raise DomainError(say(refusal))
            address = ""
            if self._served is not None:
                address = self._served.address
            elif self._filling is None and self._closing is None:
                # Another program may serve it.
                address = Hold.address_of(self._folder)
            if address:
                return f"{address}enter/{new_entry(self._folder)}"
            if self._filling is None:
                self._filling = threading.Thread(target=self._open, daemon=True)
                self._filling.start()
            return None

    def begin_anew(self) -> None:
        """Throw away all the demo holds; the next visit fills it anew.

        Raises :class:`DomainError` where another program has it open.
        """
        self.close()
        if self._folder.is_file():
            self._folder.unlink()
        self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        hold = Hold.of(self._folder)
        try:
            for one in self._folder.iterdir():
                if one.is_dir():
                    shutil.rmtree(one)
                elif not one.name.startswith("held."):
                    one.unlink()
        finally:
            hold.let_go()

    def close(self) -> None:
        """Serve it no more; what it holds stays for the next time."""
        if self._filling is not None:
            self._filling.join()
        served = self._take_away()
        if served is not None:
            served.end()
        if self._closing is not None:
            self._closing.join()

    def _close_soon(self) -> None:
        """The same, once the page that asked for it has its answer."""
        served = self._take_away()
        if served is None:
            return

        def end() -> None:
            served.end()
            self._closing = None

        self._closing = threading.Timer(STOPS_AFTER, end)
        self._closing.start()

    def _take_away(self) -> _Served | None:
        with self._lock:
            served, self._served = self._served, None
        return served

    def _open(self) -> None:
        closing = self._closing
        if closing is not None:
            closing.join()
        try:
            served = _serve(self._folder, self._back_to, self._close_soon)
        except DomainError as error:
            self._refusal = error.message
        except Exception:
            logging.getLogger("tallyfold").exception("the demo could not be opened")
            self._refusal = to_say("The demo could not be opened; the terminal says why.")
        else:
            with self._lock:
                self._served = served
        finally:
            self._filling = None


@dataclass(frozen=True)
class _Served:
    """A demo that is open."""

    address: str
    server: Any
    engine: Any
    hold: Hold

    def end(self) -> None:
        self.server.stop()
        self.engine.dispose()
        self.hold.let_go()


def _serve(folder: Path, back_to: str, close: Callable[[], None]) -> _Served:
    from cheroot.wsgi import Server

    from app import create_app

    settings = settings_for(folder)
    hold = Hold.of(folder)
    try:
        open_or_make(settings, demo=True)
        app = create_app(settings)
        app.extensions["demo"] = DemoShop(back_to, close)
        server = Server((LOOPBACK, 0), app, numthreads=8, timeout=5)
        server.error_log = lambda *words, **more: None  # type: ignore[method-assign]
        server.prepare()
    except BaseException:
        hold.let_go()
        raise
    address = f"http://{LOOPBACK}:{server.bind_addr[1]}/"
    hold.say(address)
    threading.Thread(target=server.serve, daemon=True).start()
    return _Served(address, server, app.extensions["engine"], hold)
