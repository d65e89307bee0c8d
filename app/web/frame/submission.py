"""The one way to send a form: done once, refused in whole, led on from.

A view says what is to be done and where that leads; key, checks, refusal and its undoing are
here. The commit is the application's (:class:`app.web.frame.session.ShopApp`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from flask import flash, g, redirect, request
from sqlalchemy.exc import IntegrityError
from werkzeug.wrappers import Response
from wtforms import FileField

from app.core.errors import DomainError
from app.language import say, to_say
from app.models import Deed
from app.services.shop.settings import StaleError, check_not_done, do_once
from app.web.frame.fields import Form, text_field
from app.web.frame.session import db

CHANGED_MEANWHILE = to_say(
    "This was changed in another window after you opened it, and nothing was done. Look at it as "
    "it is now, and press again."
)
Do = Callable[[], str | None]
"""Does what was asked, and answers with the address it leads to; None stays on the page."""


def submit(
    form: Any,
    do: Do,
    *,
    check: Callable[[], bool] | None = None,
    now: Callable[[], Any] | None = None,
    refuse: Callable[[DomainError], None] | None = None,
) -> Response | None:
    """Do what a sent form asks and lead on; None where the page is to be shown.

    A form that was kept before leads where it led then. ``check`` is asked before anything is
    done, else the form's own rules are. A refusal undoes all that was done and stands at its
    field; ``now`` makes the form as it is saved, shown beside what was typed where that changed
    meanwhile. ``refuse`` tells a refusal in its own way. The page's title says of any that it was.
    """
    if not form.is_submitted():
        return None
    _begin(form)
    if not (check or form.validate)():
        g.refused = True
        return None
    try:
        led_to = do()
    except DomainError as error:
        g.refused = True
        db().rollback()
        if refuse is not None:
            refuse(error)
        elif now is not None:
            form.refuse(error, now())
        else:
            form.blame(error)
        return None
    return _end(form, led_to)


def press(do: Do, refused: Callable[[], Any]) -> Any:
    """Do what a button with nothing to type asks; a refusal is said, and ``refused`` answers."""
    form = Form()
    _begin(form)
    try:
        led_to = do()
    except DomainError as error:
        db().rollback()
        flash(say(CHANGED_MEANWHILE) if isinstance(error, StaleError) else error.message)
        return refused()
    return _end(form, led_to) or refused()


class PictureForm(Form):
    """A picture and what it shows."""

    photo = FileField(to_say("A picture: JPEG, PNG, WebP or GIF"))
    says = text_field(to_say("What it shows"), most=300)


def picture_sent(name: str) -> bytes:
    """The picture that was chosen at a field; refused there where none was."""
    sent = request.files.get(name)
    data = sent.read() if sent is not None else b""
    if not data:
        raise DomainError(say("Choose a picture first."), name)
    return data


def _begin(form: Form) -> None:
    """Stop here, by an exception, where this very form was kept before."""
    form.once.data = "".join(c for c in form.once.data or "" if c.isalnum())[:64]
    check_not_done(db(), form.once.data)


def _end(form: Form, led_to: str | None) -> Response | None:
    """Remember that the form was kept, and lead on."""
    try:
        # A search carried along may be longer than there is room for; its page is kept.
        where = led_to or request.path
        do_once(db(), form.once.data, where if len(where) <= 200 else where.partition("?")[0])
    except IntegrityError:
        db().rollback()
        deed = db().get(Deed, form.once.data[:64])
        if deed is None:
            raise
        return redirect(deed.led_to)
    if led_to is None:
        # What is sent from the page next is something else.
        form.once.data = uuid4().hex
        return None
    return redirect(led_to)
