"""Tallyfold: from a journal's size to its price, an order, and the sheets to buy.

The web application is made by :func:`create_app`; its imports stay inside the function so
that the calculating core can be imported without Flask.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from app.config import Settings


def create_app(settings: Settings | None = None) -> Flask:
    """Make the web application for one data folder or database address."""
    from app.web.application import make_application

    return make_application(settings)
