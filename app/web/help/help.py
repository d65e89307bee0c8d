"""Help on one page, what is new on another, and whether a page that is open is still true."""

from __future__ import annotations

from flask import Blueprint, current_app, render_template

from app.language import say
from app.web.help import news, words

pages = Blueprint("help", __name__, url_prefix="/help")


@pages.get("")
def page() -> str:
    """The keys and the words."""
    groups = (
        (say("Words of the bench"), words.in_order(words.BENCH)),
        (say("Words of the books"), words.in_order(words.BOOKS)),
    )
    return render_template("help/page.html", groups=groups)


@pages.get("/new")
def new() -> str:
    """What each version brought."""
    return render_template("help/new.html", versions=news.versions())


@pages.get("/pulse")
def pulse() -> dict[str, str]:
    """That the shop answers, and by what a page sees that something was changed since."""
    return {"changes": current_app.extensions["changes"].now}
