"""Who may come in, and from where a request may come.

Every page but the way in asks for a cookie that this shop gave out. A change has to come from a
page of the shop itself: the browser's own word on it (``Sec-Fetch-Site``, ``Origin``) is checked
besides the form's key.
"""

from __future__ import annotations

from typing import Any

from flask import Flask, Response, current_app, g, redirect, render_template, request, url_for
from flask.sessions import SecureCookieSessionInterface
from werkzeug.exceptions import BadRequest

from app.config import Settings
from app.language import say
from app.services.access.devices import Device, Devices
from app.services.access.passphrase import Tries, has_passphrase

OPEN_TO_ALL = {"access.enter", "access.sign_in", "static"}
"""The way in, and what its pages are drawn with."""
A_YEAR = 365 * 24 * 3600
SAME = (None, "same-origin", "none")


class SecureWhereItCan(SecureCookieSessionInterface):
    """The session's cookie travels over TLS alone, where it was given out over TLS."""

    def get_cookie_secure(self, app: Flask) -> bool:
        return request.is_secure


class Door:
    """The way in of one shop."""

    def __init__(self, settings: Settings) -> None:
        self.folder = settings.folder
        self.cookie = f"tallyfold_{settings.mark}_key"
        self.devices = Devices(settings.folder)
        self.tries = Tries()
        self.phone_address = ""
        """Where a phone opens the shop; empty where it is served to this computer alone."""
        self.fingerprint = ""

    def let_in(self, response: Response, name: str, by: str) -> None:
        """Give this browser its cookie; one that it had is good for nothing any more."""
        known = self.devices.known(request.cookies.get(self.cookie))
        if known is not None:
            self.devices.end({known.number})
        secret = self.devices.admit(name, by)
        response.set_cookie(
            self.cookie, secret, max_age=A_YEAR, httponly=True, samesite="Strict",
            secure=request.is_secure,
        )  # fmt: skip

    def see_out(self, response: Response) -> None:
        """Take the cookie back, and what the browser keeps of the shop."""
        response.delete_cookie(
            self.cookie, httponly=True, samesite="Strict", secure=request.is_secure
        )
        response.headers["Clear-Site-Data"] = '"cache", "storage"'


def door() -> Door:
    """The way in of this application's shop."""
    found: Door = current_app.extensions["door"]
    return found


def this_device() -> Device:
    """The browser that asks."""
    found: Device = g.device
    return found


def browser_name() -> str:
    """What to call a browser by what it says of itself: enough to tell two apart on a list."""
    says = request.user_agent.string
    kinds = ("iPhone", "iPad", "Android", "Windows", "Macintosh", "Linux")
    programs = ("Firefox", "Edg", "Chrome", "Safari")
    where = next((kind for kind in kinds if kind in says), "")
    what = next((name for name in programs if name in says), "")
    what = "Edge" if what == "Edg" else what
    if what and where:
        return say("{browser} on {system}", browser=what, system=where)
    return what or where or say("A browser")


def _from_here() -> Any:
    """Refuse what another site's page sends, or asks for behind the maker's back."""
    site = request.headers.get("Sec-Fetch-Site")
    if request.method in ("GET", "HEAD", "OPTIONS"):
        followed = request.headers.get("Sec-Fetch-Mode", "navigate") == "navigate"
        return None if site in SAME or followed else _refused()
    origin = request.headers.get("Origin")
    own = request.host_url.rstrip("/")
    return _refused() if site not in SAME or origin not in (None, own) else None


def _refused() -> Any:
    text = say("It came from a page of another site. Nothing was changed; open the shop itself.")
    return render_template("error.html", head=say("Not from here"), text=text), 403


def _known() -> Any:
    """Let those in who were admitted; others are shown the way."""
    if request.endpoint in OPEN_TO_ALL or isinstance(request.routing_exception, BadRequest):
        return None
    own = door()
    device = own.devices.known(request.cookies.get(own.cookie))
    if device is not None:
        g.device = device
        return None
    if request.is_secure and has_passphrase(own.folder):
        wanted = request.full_path.rstrip("?") if request.method == "GET" else None
        return redirect(url_for("access.sign_in", then=wanted))
    return render_template("closed.html", phrase=has_passphrase(own.folder)), 401


def register(app: Flask, settings: Settings) -> None:
    """Ask at the beginning of every request."""
    app.extensions["door"] = Door(settings)
    app.session_interface = SecureWhereItCan()
    app.before_request(_from_here)
    app.before_request(_known)
