"""What stands on the shop's papers: address, numbers, how to pay, care, and the logo."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from flask import Blueprint, Response, abort, flash, render_template, send_file, url_for
from wtforms import BooleanField, FileField, HiddenField

from app.language import say, to_say
from app.services.shop import letterhead as service
from app.web.frame.fields import (
    Form,
    Needed,
    WholeField,
    note_field,
    text_field,
    typed_version,
)
from app.web.frame.session import db
from app.web.frame.submission import picture_sent, submit

pages = Blueprint("letterhead", __name__, url_prefix="/shop/papers")


class LetterheadForm(Form):
    """Address, numbers and words."""

    version = HiddenField()
    address = note_field(to_say("Address, line by line"))
    country = text_field(
        to_say("Country"), most=60, description=to_say("Two letters, such as GB, DE, US.")
    )
    contact = note_field(to_say("E-mail, telephone, website, line by line"))
    tax_number = text_field(
        to_say("Tax number"),
        description=to_say("As your tax office gave it; of the EU with its country first."),
    )
    register_number = text_field(
        to_say("Register number"),
        description=to_say("Of a trade or company register, if you have one."),
    )
    no_tax_because = note_field(to_say("Why no tax is charged, where none is"))
    pay_how = note_field(to_say("How to pay: account, name, anything a customer needs"))
    pay_days = WholeField(
        to_say("Days to pay in"), [Needed()], least=0, most=365, words=("d", "day", "days")
    )
    quote_days = WholeField(
        to_say("Days a quote holds"), [Needed()], least=1, most=365, words=("d", "day", "days")
    )
    quote_pictures = BooleanField(to_say("Show the journals’ pictures on quotes"))
    care = note_field(to_say("Care, for the packing slip, line by line"))


class LogoForm(Form):
    """A picture, or the wish to have none."""

    logo = FileField(to_say("A picture: PNG, JPEG, WebP or GIF"))
    none = BooleanField(to_say("No picture any more"))


@pages.route("", methods=["GET", "POST"])
def page() -> Any:
    """What stands on papers, and the form to change it."""
    row = service.letterhead(db())
    form = LetterheadForm(obj=row)

    def save() -> str:
        # A form of before there was anything is stale once there is.
        service.save_letterhead(db(), form.values(), typed_version(form.version.data) or 0)
        flash(say("Saved. Papers that are written already stay as they are."))
        return url_for("letterhead.page")

    def now() -> LetterheadForm:
        return LetterheadForm(formdata=None, obj=service.letterhead(db()))

    done = submit(form, save, now=now)
    return done or _page(form, LogoForm(formdata=None), 422 if form.is_submitted() else 200)


def _page(form: LetterheadForm, logo: LogoForm, status: int) -> Any:
    has = service.letterhead(db()).logo is not None
    return render_template("shop/letterhead.html", form=form, logo=logo, has=has), status


@pages.post("/logo")
def logo() -> Any:
    """Take a picture for the head of papers, or take it off."""
    form = LogoForm()

    def save() -> str:
        if form.none.data:
            service.set_logo(db(), None)
            flash(say("Papers have no picture from now on."))
            return url_for("letterhead.page")
        service.set_logo(db(), picture_sent("logo"))
        flash(say("The picture stands on papers from now on."))
        return url_for("letterhead.page")

    done = submit(form, save)
    fields = LetterheadForm(formdata=None, obj=service.letterhead(db()))
    return done or _page(fields, form, 422)


@pages.get("/logo.png")
def picture() -> Response:
    """The picture as it is kept."""
    data = service.letterhead(db()).logo
    if data is None:
        abort(404)
    return send_file(BytesIO(data), mimetype="image/png")
