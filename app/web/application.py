"""Makes the Flask application: database, safety, filters, stations, error pages."""

from __future__ import annotations

import logging
from typing import Any

from flask import Flask, Response, flash, redirect, render_template, request
from flask_wtf import CSRFProtect
from flask_wtf.csrf import CSRFError
from sqlalchemy.exc import DatabaseError, IntegrityError, InterfaceError, OperationalError
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.exceptions import HTTPException

from app.config import Settings, settings_from_environment
from app.core.errors import DomainError
from app.db import make_engine, session_maker
from app.folder import FolderError
from app.language import say, to_say
from app.models import Deed
from app.services.shop.settings import AlreadyDoneError
from app.web.frame import demo, door, filters, session, spoken
from app.web.frame.jobs import Jobs
from app.web.stations import STATIONS, blueprints

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'{forms}; base-uri 'none'; frame-ancestors 'none'"
)
LOOPBACK_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
LARGEST_FORM, LARGEST_TABLE, LARGEST_PICTURE = (n * 1024 * 1024 for n in (2, 8, 16))
csrf = CSRFProtect()


def make_application(settings: Settings | None = None) -> Flask:
    """The application for one shop; its schema must be up to date already."""
    settings = settings or settings_from_environment()
    app = session.ShopApp("app.web", template_folder="templates", static_folder="static")
    app.config.update(
        SECRET_KEY=settings.secret_key,
        SESSION_COOKIE_NAME=f"tallyfold_{settings.mark}",
        SESSION_COOKIE_SAMESITE="Strict",
        SESSION_COOKIE_HTTPONLY=True,
        WTF_CSRF_TIME_LIMIT=None,
        MAX_CONTENT_LENGTH=LARGEST_FORM,
        MAX_FORM_PARTS=2000,
        MAX_FORM_MEMORY_SIZE=LARGEST_FORM,
        TRUSTED_HOSTS=[*LOOPBACK_HOSTS],
    )
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    engine = make_engine(settings.database_url, watched=True)
    app.config["PHOTOS"] = settings.photos
    app.extensions["settings"] = settings
    app.extensions["engine"] = engine
    app.extensions["sessions"] = session_maker(engine)
    app.extensions["jobs"] = Jobs()
    app.before_request(_room_for_tables)
    app.before_request(spoken.as_the_browser_asks)
    door.register(app, settings)
    session.register(app)
    spoken.register(app)
    csrf.init_app(app)
    filters.register(app)
    for blueprint in blueprints():
        app.register_blueprint(blueprint)
    app.context_processor(lambda: {"stations": STATIONS})
    demo.register(app)
    app.after_request(_headers)
    _error_pages(app)
    return app


def _room_for_tables() -> None:
    """A table that is taken in travels with its form, a picture beside it; nothing is as large."""
    if request.endpoint == "importing.page":
        request.max_content_length = request.max_form_memory_size = LARGEST_TABLE
    if request.endpoint in ("photos.add", "pictures.page", "letterhead.logo"):
        request.max_content_length = LARGEST_PICTURE


def _headers(response: Response) -> Response:
    response.headers["Content-Security-Policy"] = CONTENT_POLICY.format(forms=demo.form_targets())
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "same-origin"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    if request.is_secure:
        response.headers["Strict-Transport-Security"] = "max-age=31536000"
    if not request.path.startswith("/static/"):
        response.headers["Cache-Control"] = "no-store"
    return response


def _page(status: int, head: str, text: str) -> tuple[str, int]:
    return render_template("error.html", head=head, text=text), status


def _is_damage(error: DatabaseError) -> bool:
    """Whether SQLite says so of its file; another database error is a mistake of the program."""
    name = getattr(error.orig, "sqlite_errorname", "")
    return str(name).startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB"))


ERRORS = {
    400: (
        to_say("That could not be read"),
        to_say("The request was not one this page understands."),
    ),
    403: (to_say("Not allowed"), to_say("This page does not do that.")),
    404: (to_say("Page not found"), to_say("The page is gone or its address was mistyped.")),
    405: (to_say("Not that way"), to_say("This address is not opened like this.")),
    413: (to_say("Too much at once"), to_say("What was sent is larger than this page takes.")),
}
"""What is said of a request that could not be answered, by the number of its error."""


def _error_pages(app: Flask) -> None:
    def of_http(error: HTTPException) -> Any:
        status = error.code or 500
        head, text = ERRORS.get(status, (error.name, error.description or ""))
        return _page(status, say(head), say(text))

    def of_form_key(error: CSRFError) -> Any:
        return _page(
            400,
            say("This form has gone stale"),
            say(
                "Its key no longer matches this browser. Go back, reload the page and send it "
                "again; nothing was changed."
            ),
        )

    def of_domain(error: DomainError) -> Any:
        return _page(422, say("That cannot be done"), error.message)

    def of_done(error: AlreadyDoneError) -> Any:
        flash(say("That was kept already; it was not done twice."))
        return redirect(error.led_to)

    def of_stale(error: StaleDataError) -> Any:
        return _page(
            409,
            say("Changed in another window"),
            say(
                "Somebody changed the same thing at the same moment. Nothing of yours was saved; "
                "go back, reload and try again."
            ),
        )

    def of_race(error: IntegrityError) -> Any:
        # The same form twice at one moment: the other one won, and this one leads where it led.
        session.undo()
        deed = session.db().get(Deed, request.form.get("once", "")[:64].replace("\x00", ""))
        if deed is not None:
            return of_done(AlreadyDoneError(deed.led_to))
        return _page(
            409,
            say("Somebody was quicker"),
            say(
                "The same thing was written down at the same moment. Nothing of yours was saved; "
                "go back, look, and send it again if it is still wanted."
            ),
        )

    def of_folder(error: FolderError) -> Any:
        logging.getLogger("tallyfold").error(error.message)
        return _page(503, say("The shop is not where it was"), error.message)

    def of_damage(error: DatabaseError) -> Any:
        if not _is_damage(error):
            return of_anything(error)
        logging.getLogger("tallyfold").exception("the database is damaged")
        return _page(
            503,
            say("The database is damaged"),
            say(
                "Nothing was changed by this page. Close the program, look with “tallyfold "
                "check”, and put the newest backup back with “tallyfold restore”, which keeps "
                "what is there now."
            ),
        )

    def of_database(error: OperationalError | InterfaceError) -> Any:
        logging.getLogger("tallyfold").exception("the database refused")
        return _page(
            503,
            say("The database does not answer"),
            say(
                "It is busy, full or cannot be written to. Nothing was changed; try again, and "
                "look at the terminal for the reason."
            ),
        )

    def of_anything(error: Exception) -> Any:
        logging.getLogger("tallyfold").exception("a page failed")
        return _page(
            500,
            say("Something broke"),
            say("Nothing was changed. The terminal says where it happened."),
        )

    app.register_error_handler(HTTPException, of_http)
    app.register_error_handler(CSRFError, of_form_key)
    app.register_error_handler(DomainError, of_domain)
    app.register_error_handler(AlreadyDoneError, of_done)
    app.register_error_handler(StaleDataError, of_stale)
    app.register_error_handler(IntegrityError, of_race)
    app.register_error_handler(FolderError, of_folder)
    app.register_error_handler(DatabaseError, of_damage)
    app.register_error_handler(OperationalError, of_database)
    app.register_error_handler(InterfaceError, of_database)
    if not app.debug:
        app.register_error_handler(500, of_anything)
