"""How tests come in: each of an application's clients has the cookie of one browser that is in."""

from __future__ import annotations

from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.config import Settings
from app.web.frame.door import Door


class Admitted(FlaskClient):
    """A client that may come in."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        name, secret = way_in(self.application)
        self.set_cookie(name, secret)


def way_in(app: Flask) -> tuple[str, str]:
    """The name and the value of the cookie that lets a browser in."""
    door: Door = app.extensions["door"]
    if "admitted" not in app.extensions:
        app.extensions["admitted"] = door.devices.admit("Tests", "a test")
    return door.cookie, app.extensions["admitted"]


def open_app(settings: Settings) -> Flask:
    """The application of a shop, its test clients admitted."""
    app = create_app(settings)
    app.testing = True
    app.test_client_class = Admitted
    return app
