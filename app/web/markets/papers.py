"""Labels, swing tags, the price list and the tally sheet of a market, to print."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from wtforms import BooleanField, HiddenField

from app.core.errors import DomainError
from app.core.selling.labels import SHEETS, LabelSheet
from app.documents.labels import Label, labels_pdf
from app.documents.letters import not_printed
from app.language import say, to_say
from app.models import Market
from app.services.markets import papers as service
from app.services.markets.stall import listed
from app.web.frame.asked import number_asked
from app.web.frame.fields import Form, choice_field, note_field, typed_version
from app.web.frame.session import db, need, photo_folder
from app.web.frame.submission import submit

pages = Blueprint("stall_papers", __name__, url_prefix="/markets/<int:market_id>/papers")
MOST_WORDS = 300
KEYS = (
    "sheet", "says_made_of", "says_address", "shows_picture", "origin", "care", "small_parts",
    "more",
)  # fmt: skip


class LabelForm(Form):
    """What stands on labels beside name, page size and price."""

    version = HiddenField()
    sheet = choice_field(to_say("Sheet"), [(name, name) for name in SHEETS])
    says_made_of = BooleanField(to_say("Say what it is made of, by its papers and materials"))
    says_address = BooleanField(to_say("Say your name and address, as on your papers"))
    shows_picture = BooleanField(to_say("Show its picture, where there is one"))
    origin = note_field(to_say("Made where"), most=MOST_WORDS)
    care = note_field(to_say("Care"), most=MOST_WORDS)
    small_parts = note_field(to_say("Small parts and cords"), most=MOST_WORDS)
    more = note_field(to_say("What else the law of the place asks"), most=MOST_WORDS)


def _form(**more: Any) -> LabelForm:
    words = service.label_words(db())
    start = {key: getattr(words, key) for key in KEYS} | {"version": words.version or ""}
    return LabelForm(data=start, **more)


@pages.route("", methods=["GET", "POST"])
def page(market_id: int) -> Any:
    """What there is to print, and what stands on labels."""
    market = need(Market, market_id)
    form = _form()

    def save() -> str:
        values = {key: form[key].data for key in KEYS}
        service.save_label_words(db(), values, typed_version(form.version.data))
        flash(say("Saved: labels are printed so from now on."))
        return url_for("stall_papers.page", market_id=market.id)

    if done := submit(form, save, now=lambda: _form(formdata=None)):
        return done
    lines = listed(db(), market)
    pictures = service.label_pictures(db(), lines)
    first = next((line.variant for line in lines if line.variant_id in pictures), None)
    first = first or (lines[0].variant if lines else None)
    picture = pictures.get(first.id) if first else None
    plain = service.label_of(db(), market, first) if first else None
    label = plain and service.with_picture(plain, photo_folder(), picture)
    sheet = SHEETS[service.label_words(db()).sheet]
    shown = render_template(
        "markets/papers.html", market=market, form=form, lines=lines,
        sheet=sheet,
        label=label, picture=picture,
        too_much=_too_much(sheet, label),
    )  # fmt: skip
    return shown, 422 if form.is_submitted() else 200


def _too_much(sheet: LabelSheet, label: Label | None) -> str:
    """Why what stands on a label has no room on it; nothing where it has."""
    try:
        labels_pdf(sheet, [label] if label else [])
    except DomainError as error:
        return error.message
    missing = not_printed(" ".join([label.name, *label.lines])) if label else ""
    if not missing:
        return ""
    return say("These characters cannot be printed: {missing}", missing=missing)


def _printed(market: Market, name: str, make: Callable[[], bytes]) -> Any:
    """A paper as PDF; why there is none is said on the page it is asked for."""
    try:
        made = make()
    except DomainError as error:
        flash(error.message)
        return redirect(url_for("stall_papers.page", market_id=market.id))
    return Response(
        made, mimetype="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}-{market.id}.pdf"'},
    )  # fmt: skip


@pages.get("/labels.pdf")
def labels(market_id: int) -> Any:
    """The labels, from the one that is asked for on."""
    market, asked = need(Market, market_id), request.args
    start = number_asked(asked, "start") if "start" in asked else 1
    return _printed(
        market, "labels",
        lambda: service.labels_for(
            db(), market, photo_folder(), 0 if start is None else start,
            packed=asked.get("for") == "packed", outlined="outlined" in asked,
        ),
    )  # fmt: skip


@pages.get("/prices.pdf")
def prices(market_id: int) -> Any:
    """The price list."""
    market = need(Market, market_id)
    return _printed(market, "prices", lambda: service.price_list(db(), market))


@pages.get("/tally.pdf")
def tally(market_id: int) -> Any:
    """The tally sheet for a day without a phone."""
    market = need(Market, market_id)
    return _printed(market, "tally", lambda: service.tally_sheet(db(), market))
