"""The way in: by the address that the program prints, or by the passphrase; and who came in."""

from __future__ import annotations

from typing import Any

import segno
from flask import Blueprint, flash, make_response, redirect, render_template, request, url_for
from markupsafe import Markup
from wtforms import HiddenField, PasswordField

from app.core.errors import DomainError
from app.language import say, say_many, to_say
from app.services.access import passphrase
from app.services.access.devices import use_entry
from app.web.frame.door import browser_name, door, this_device
from app.web.frame.fields import Form, typed_version
from app.web.frame.submission import press, submit

pages = Blueprint("access", __name__)
BY_ADDRESS, BY_PHRASE = to_say("the printed address"), to_say("the passphrase")
LONGEST_WAY = 500


class SignInForm(Form):
    """The passphrase, and the page that was asked for."""

    phrase = PasswordField(to_say("Passphrase"), render_kw={"autocomplete": "current-password"})
    then = HiddenField()


class PhraseForm(Form):
    """A new passphrase, and the one there is."""

    current = PasswordField(
        to_say("The one there is"), render_kw={"autocomplete": "current-password"}
    )
    new = PasswordField(to_say("New passphrase"), render_kw={"autocomplete": "new-password"})
    again = PasswordField(to_say("Once more"), render_kw={"autocomplete": "new-password"})


@pages.get("/enter/<key>")
def enter(key: str) -> Any:
    """Let the browser in that comes first with a key that the program printed."""
    # Whoever only asks what is there, as a messenger does, does not use it up.
    if request.method == "HEAD" or not use_entry(door().folder, key):
        has = passphrase.has_passphrase(door().folder)
        return render_template("closed.html", used=True, phrase=has), 401
    response = make_response(redirect(url_for("today.page")))
    door().let_in(response, browser_name(), BY_ADDRESS)
    return response


@pages.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> Any:
    """Let a browser in by the passphrase; wrong ones are counted."""
    folder = door().folder
    if not passphrase.has_passphrase(folder):
        return render_template("closed.html", phrase=False), 401
    form = SignInForm()
    if not form.is_submitted():
        form.then.data = request.args.get("then", "")[:LONGEST_WAY]
        return render_template("sign_in.html", form=form)
    where = request.remote_addr or ""
    wait = door().tries.begin(where) if form.phrase.data else 0
    if not wait and passphrase.fits(folder, form.phrase.data or ""):
        door().tries.was_right(where)
        response = make_response(redirect(_own_page(form.then.data)))
        door().let_in(response, browser_name(), BY_PHRASE)
        return response
    # A right one is refused as well while one waits: else the wait would tell.
    says = (
        say(
            "There were too many wrong ones: wait {minutes} min, or start the shop anew on its "
            "computer.",
            minutes=-(-wait // 60),
        )
        if wait
        else say(
            "That is not the passphrase: it is compared exactly as typed, blanks at its end too."
        )
    )
    form.blame(DomainError(says, "phrase"))
    return render_template("sign_in.html", form=form), 429 if wait else 422


def _own_page(wanted: str | None) -> str:
    """The page that was asked for, where it is one of the shop's own."""
    plain = (wanted or "").replace("\\", "/")
    inside = plain.startswith("/") and not plain.startswith("//") and plain.isprintable()
    return plain[:LONGEST_WAY] if inside else url_for("today.page")


@pages.route("/shop/devices", methods=["GET", "POST"])
def devices() -> Any:
    """Which browsers may come in, and the passphrase for another."""
    form = PhraseForm()
    folder = door().folder

    def choose() -> str:
        if passphrase.has_passphrase(folder):
            _current_one(folder, form.current.data or "")
        passphrase.choose(folder, form.new.data or "", form.again.data or "")
        flash(say("The passphrase is kept. Those that are in stay in; end them below if you like."))
        return url_for("access.devices")

    done = submit(form, choose, check=lambda: True)
    return done or _page(form, 422 if form.is_submitted() else 200)


def _current_one(folder: Any, typed: str) -> None:
    """Refuse to change the passphrase without the one there is; wrong ones are counted."""
    where = request.remote_addr or ""
    wait = door().tries.begin(where)
    if wait:
        minutes = -(-wait // 60)
        words = say("There were too many wrong ones: wait {minutes} min.", minutes=minutes)
        raise DomainError(words, "current")
    if not passphrase.fits(folder, typed):
        raise DomainError(say("That is not the passphrase there is."), "current")
    door().tries.was_right(where)


def _page(form: PhraseForm, status: int) -> Any:
    address = door().phone_address
    drawn = Markup(segno.make(address).svg_inline(scale=5, light="white")) if address else ""  # noqa: S704 - drawn here
    return render_template(
        "shop/devices.html", form=form, devices=door().devices.all(), own=this_device(),
        has=passphrase.has_passphrase(door().folder), address=address, drawn=drawn,
        fingerprint=door().fingerprint,
    ), status  # fmt: skip


@pages.post("/shop/devices/end")
def end() -> Any:
    """Let a browser, or all others, in no more."""
    own = this_device()
    typed = request.form.get("number", "")
    others = {one.number for one in door().devices.all()} - {own.number}
    asked = others if typed == "others" else {typed_version(typed)}

    def send_out() -> str:
        gone = door().devices.end(asked)
        told = say_many(
            gone, "{n} browser has to come in anew.", "{n} browsers have to come in anew."
        )
        flash(told)
        return url_for("access.devices")

    answer = press(send_out, lambda: redirect(url_for("access.devices")))
    if own.number in asked:
        answer = make_response(redirect(url_for("access.sign_in")))
        door().see_out(answer)
    return answer
