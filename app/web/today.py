"""The first page: what is due, what to order, the next market."""

from __future__ import annotations

from flask import Blueprint, render_template

from app.services.today import the_day
from app.web.frame.session import db, today

pages = Blueprint("today", __name__)


@pages.get("/")
def page() -> str:
    """Each line leads to where it is dealt with."""
    return render_template("today.html", day=the_day(db(), today()))
