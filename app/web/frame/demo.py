"""Which shop a page is of: the demo or the maker's own, and whether one can be opened from here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from flask import Flask, current_app, request

from app.config import LOOPBACK


@dataclass(frozen=True)
class DemoShop:
    """That this shop is the demo: where the maker's own is open, and what closes this one."""

    back_to: str
    close: Callable[[], None] | None


NEVER_CLOSED = DemoShop("", None)
"""The demo that is served by itself."""


class Opens(Protocol):
    """What opens the demo beside a shop."""

    def way_in(self) -> str | None: ...

    def begin_anew(self) -> None: ...


def shown() -> DemoShop | None:
    """What is said on every page of the demo; None in a shop of a maker's own."""
    found = current_app.extensions.get("demo")
    return found if isinstance(found, DemoShop) else None


def can_open() -> bool:
    """Whether a demo can be opened from here: on this computer, not from a phone."""
    found = current_app.extensions.get("demo")
    here = request.host.partition(":")[0] in (LOOPBACK, "localhost")
    return here and found is not None and not isinstance(found, DemoShop)


def form_targets() -> str:
    """Where else a form of this shop may lead: from the demo, back to the maker's own."""
    demo = shown()
    return f" {demo.back_to.rstrip('/')}" if demo is not None and demo.back_to else ""


def register(app: Flask) -> None:
    """Let every page say which shop it is of."""
    app.context_processor(lambda: {"demo": shown(), "can_open_demo": can_open})
