"""Backups on a page: what is kept, one made now, one to carry away."""

from __future__ import annotations

from typing import Any

from flask import (
    Blueprint,
    abort,
    current_app,
    flash,
    redirect,
    render_template,
    send_file,
    url_for,
)

from app.config import Settings
from app.core.errors import DomainError
from app.core.keeping import ALL_OF_DAYS, DAYS, MONTHS, WEEKS
from app.language import say, say_many, to_say
from app.services.shop.moments import by_the_clock
from app.services.upkeep import backups as service

pages = Blueprint("backups", __name__, url_prefix="/shop/backups")
WHY = {service.BY_HAND: to_say("made by hand"), service.DAILY: to_say("made by itself")}
ELSE = to_say("made before an upgrade")


def _settings() -> Settings:
    found: Settings = current_app.extensions["settings"]
    return found


@pages.get("")
def page() -> Any:
    """Those that are kept, and the button for one more."""
    return render_template(
        "shop/backups.html", rows=service.backups(_settings()),
        why=lambda one: say(WHY.get(one.why, ELSE)),
        folder=service.folder_of(_settings()), days=DAYS, weeks=WEEKS, months=MONTHS,
        all_of=ALL_OF_DAYS,
    )  # fmt: skip


@pages.post("")
def make() -> Any:
    """Make one now, with no transaction open: nobody waits for it."""
    try:
        made = service.back_up(_settings(), current_app.extensions["engine"], by_the_clock())
    except DomainError as error:
        flash(error.message)
        return redirect(url_for("backups.page"))
    said = [say("{file} is made and verified.", file=made.file.name)]
    if off := len(made.findings):
        said.append(say_many(
            off, "{n} thing in the shop does not agree: see “tallyfold check”.",
            "{n} things in the shop do not agree: see “tallyfold check”.",
        ))  # fmt: skip
    flash(" ".join(said))
    return redirect(url_for("backups.page"))


@pages.get("/<name>")
def one(name: str) -> Any:
    """A backup to carry to another place."""
    known = {row.file.name: row.file for row in service.backups(_settings())}
    if name not in known:
        abort(404)
    return send_file(known[name].resolve(), as_attachment=True, mimetype="application/zip")
