"""The application over an empty shop and over the demo, and a visitor to each."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from flask import Flask
from sqlalchemy.orm import Session, sessionmaker

from app.config import Settings
from app.db import transaction
from app.services.designs import journals
from tests.door import open_app
from tests.factories import Bench
from tests.web.visitor import Visitor


def _app(settings: Settings) -> Iterator[Flask]:
    app = open_app(settings)
    yield app
    app.extensions["engine"].dispose()


@pytest.fixture
def empty_app(empty_settings: Settings) -> Iterator[Flask]:
    yield from _app(empty_settings)


@pytest.fixture
def demo_app(demo_settings: Settings) -> Iterator[Flask]:
    yield from _app(demo_settings)


@pytest.fixture
def visitor(empty_app: Flask) -> Visitor:
    """Somebody in an empty shop."""
    return Visitor(empty_app)


@pytest.fixture
def guest(demo_app: Flask) -> Visitor:
    """Somebody in the demo shop."""
    return Visitor(demo_app)


@pytest.fixture
def stocked(empty_app: Flask) -> Visitor:
    """Somebody in a shop with one sound journal, its papers and findings on offer."""
    with transaction(sessions_of(empty_app)) as session:
        bench = Bench(session)
        days = (date.today() - date(2027, 3, 1)).days + 500
        bench.order(days=days, logged_on=date.today())
        assert journals.sellable(session)
    return Visitor(empty_app)


def sessions_of(app: Flask) -> sessionmaker[Session]:
    """Sessions on the application's database."""
    found: sessionmaker[Session] = app.extensions["sessions"]
    return found
