"""One database session a request: kept when the page went well, undone when it did not.

A page that only reads opens a reading transaction; one that may write takes the write lock
first. The commit is part of the view (:class:`ShopApp`): what was acknowledged is on disk, and
what could not be written is told on a page.
"""

from __future__ import annotations

import gc
import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from secrets import token_hex
from typing import Any, TypeVar

from flask import Flask, abort, current_app, g, request
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session
from werkzeug.wrappers import Response

from app.core.errors import DomainError
from app.core.numbers import number_style
from app.db import Base, forget_for_good, let_go, transaction
from app.language import language, say
from app.memory import Memory
from app.models import Shop
from app.services.designs.price_book import PriceBook, read_prices
from app.services.planning.plans import (
    SOLVED,
    PlanMissingError,
    forbid_planning,
    keep_answers,
    solve,
)
from app.services.shop.settings import the_shop
from app.sqlite import move_long_log, refuse_changed


def db() -> Session:
    """The request's session."""
    if "session" not in g:
        session: Session = current_app.extensions["sessions"]()
        reads = _reads()
        session.connection(execution_options={"reads_only": reads})
        if reads:
            # One that only reads sees the shop as of its first reading, not of its beginning.
            current_app.extensions["memory"].carried_by(session)
        session.info[SOLVED] = g.setdefault("solved", {})
        if not reads:
            forbid_planning(session)
        g.session = session
    found: Session = g.session
    return found


def photo_folder() -> Path:
    """Where pictures are kept."""
    folder: Path = current_app.config["PHOTOS"]
    return folder


def _reads() -> bool:
    """Whether the request only reads."""
    return request.method in ("GET", "HEAD") or request.endpoint in READS_BY_POST


def _as_of() -> None:
    """As of when a page is true: before anything of it was read.

    One that answers what was sent cannot say, since what was sent may have changed the shop.
    """
    g.as_of = current_app.extensions["changes"].now if _reads() else ""


class Changes:
    """How often the shop was changed since the program began, for a page to know that it is old."""

    def __init__(self) -> None:
        self._begun, self._count = token_hex(4), itertools.count(1)
        self.now = f"{self._begun}-0"

    def note(self) -> None:
        """One more."""
        self.now = f"{self._begun}-{next(self._count)}"


@contextmanager
def reading() -> Iterator[Session]:
    """A session beside the request's that only reads: nobody has to wait for what is done in it."""
    session: Session = current_app.extensions["sessions"]()
    try:
        session.connection(execution_options={"reads_only": True})
        yield session
    finally:
        let_go(session)


LARGEST_KEY = 2**31
Record = TypeVar("Record", bound=Base)

MOST_PLANS = 100
"""Plans that one change may need."""
READS_BY_POST = {"journals.worked_out", "markets.effect"}
"""Views that are sent a whole form and change nothing."""


def undo() -> None:
    """Undo what this request wrote, where it wrote anything."""
    if "session" in g:
        g.session.rollback()


def find(kind: type[Record], number: int | None) -> Record | None:
    """A record by its number, or None; a number no table can hold names nothing."""
    if number is None or not 0 < number < LARGEST_KEY:
        return None
    return db().get(kind, number)


def need(kind: type[Record], number: int) -> Record:
    """A record by its number; a page that is not there without it."""
    found = find(kind, number)
    if found is None:
        abort(404)
    return found


def shop() -> Shop:
    """The settings, read once a request; words and numbers are of their kind from then on."""
    if "shop" not in g:
        g.shop = the_shop(db())
        language.set(g.shop.language)
        number_style.set(g.shop.number_style)
    found: Shop = g.shop
    return found


@dataclass(frozen=True)
class Typing:
    """What a bare number on a form means: its unit, its currency."""

    unit: str
    currency: str


def typing() -> Typing:
    """How the fields of this request's form are to be read."""
    if "typing" not in g:
        g.typing = Typing(shop().unit, shop().currency)
    found: Typing = g.typing
    return found


def type_as(unit: str, currency: str, style: str) -> None:
    """Read this request's form as it says itself, where it changes how numbers are typed."""
    shop()
    number_style.set(style)
    g.typing = Typing(unit, currency)


def prices() -> PriceBook:
    """Today's prices, read once a request."""
    if "prices" not in g:
        g.prices = read_prices(db(), today())
    found: PriceBook = g.prices
    return found


def today() -> date:
    """The day it is where the maker sits."""
    return date.today()  # noqa: DTZ011 - the maker's own calendar day is meant


def plan_first(missing: PlanMissingError) -> Any:
    """Work out what a change needs with no transaction open, then do the change anew.

    What is asked may change meanwhile, so it may have to be done again; each time a plan more is
    known.
    """
    for _ in range(MOST_PLANS):
        _close(None)
        g.pop("shop", None)
        g.pop("prices", None)
        g.solved[missing.problem.digest] = solve(missing.problem)
        try:
            return current_app.dispatch_request()
        except PlanMissingError as another:
            missing = another
        except Exception as error:
            return current_app.handle_user_exception(error)
    raise DomainError(say("The plans for this change could not be worked out; try again."))


class ShopApp(Flask):
    """Keeps what a view wrote before its answer goes out; a disk that is full has a page then."""

    def dispatch_request(self) -> Response:
        """The view's answer, what it wrote committed; undone where it answers with a refusal."""
        response: Response = self.make_response(super().dispatch_request())
        session: Session | None = g.get("session")
        if session is not None and response.status_code < 400:
            session.commit()
            if not _reads():
                current_app.extensions["changes"].note()
            engine = current_app.extensions["engine"]
            refuse_changed(engine)
            move_long_log(engine)
            if g.get("forget_for_good"):
                let_go(session)
                forget_for_good(engine)
        return response


def _finish(response: Response) -> Response:
    """Undo what was not kept by now, and keep the plans that were worked out on the way."""
    session: Session | None = g.get("session")
    if session is not None:
        session.rollback()
        _keep_solved(session)
    return response


def _keep_solved(session: Session) -> None:
    """Keep the plans worked out for this page; where nothing can be written it is right even so."""
    if not g.solved:
        return
    let_go(session)
    try:
        with transaction(current_app.extensions["sessions"]) as writing:
            keep_answers(writing, g.solved)
    except OperationalError:
        current_app.logger.exception("plans could not be kept")


def _close(error: BaseException | None) -> None:
    session: Session | None = g.pop("session", None)
    if session is not None:
        let_go(session)


def settle(app: Flask) -> None:
    """After the first page, leave what is loaded for good out of every later garbage collection.

    For a program that serves one shop until it ends; else each collection in a large shop takes
    as long as a page.
    """
    pages = iter([True])

    def freeze(error: BaseException | None) -> None:
        if next(pages, False):
            gc.collect()
            gc.freeze()

    app.teardown_request(freeze)


def register(app: Flask) -> None:
    """Hang the session on the request's beginning and end."""
    changes = app.extensions["changes"] = Changes()
    file = app.extensions["settings"].file
    app.extensions["memory"] = Memory(file, lambda: changes.now)
    app.before_request(_as_of)
    app.context_processor(lambda: {"changes": lambda: g.get("as_of", "")})
    app.register_error_handler(PlanMissingError, plan_first)
    app.after_request(_finish)
    app.teardown_request(_close)
