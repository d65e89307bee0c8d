"""Help on one page, and what is new on another."""

from __future__ import annotations

from flask import Blueprint, render_template

from app.web.help import news, words

pages = Blueprint("help", __name__, url_prefix="/help")


@pages.get("")
def page() -> str:
    """The keys and the words."""
    groups = (("Words of the bench", words.BENCH), ("Words of the books", words.BOOKS))
    return render_template("help/page.html", groups=groups)


@pages.get("/new")
def new() -> str:
    """What each version brought."""
    return render_template("help/new.html", versions=news.versions())
