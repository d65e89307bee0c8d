"""The demo from a shop's pages: opened beside it, filled anew, closed again."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, current_app, flash, redirect, render_template, url_for
from werkzeug.wrappers import Response

from app.core.errors import DomainError
from app.language import say
from app.web.frame.demo import Opens, can_open, shown
from app.web.frame.fields import Form
from app.web.frame.submission import submit

pages = Blueprint("demo", __name__, url_prefix="/demo")


class AnewForm(Form):
    """That all of the demo may go."""


def _opens() -> Opens:
    if not can_open():
        abort(404)
    found: Opens = current_app.extensions["demo"]
    return found


@pages.get("")
def page() -> Any:
    """Lead into the demo; while it is being filled, say so and look again."""
    try:
        way_in = _opens().way_in()
    except DomainError as error:
        return render_template("help/demo.html", refusal=error.message), 503
    return redirect(way_in) if way_in else render_template("help/demo.html", refusal="")


@pages.route("/anew", methods=["GET", "POST"])
def anew() -> Any:
    """Fill the demo anew, once the maker has said so."""
    opens, form = _opens(), AnewForm()

    def begin() -> str:
        opens.begin_anew()
        return url_for("demo.page")

    done = submit(form, begin)
    return done or (render_template("help/demo_anew.html", form=form), 422 if form.errors else 200)


@pages.get("/closed")
def closed() -> Response:
    """Back from the demo: say what became of it."""
    flash(say("The demo is closed. What you typed in it stays there until you fill it anew."))
    return redirect(url_for("today.page"))


@pages.post("/close")
def close() -> Response:
    """Serve the demo no more and lead back to the maker's own shop."""
    demo = shown()
    if demo is None or demo.close is None:
        abort(404)
    demo.close()
    return redirect(demo.back_to + "demo/closed", 303)
