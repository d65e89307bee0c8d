"""Pictures of finished journals: beside the drawing, on lists, at the stall."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import (
    Blueprint,
    Response,
    abort,
    flash,
    redirect,
    render_template,
    request,
    send_from_directory,
    url_for,
)

from app.language import say
from app.models import Variant, VariantPicture
from app.services.designs import pictures as service
from app.web.frame.session import db, need, photo_folder
from app.web.frame.submission import PictureForm, picture_sent, press, submit

pages = Blueprint("pictures", __name__, url_prefix="/journals")


def _variant(journal_id: int, variant_id: int) -> Variant:
    variant = need(Variant, variant_id)
    if variant.design.journal_id != journal_id:
        abort(404)
    return variant


def _here(variant: Variant) -> str:
    return url_for("pictures.page", journal_id=variant.design.journal_id, variant_id=variant.id)


@pages.route("/<int:journal_id>/variants/<int:variant_id>/pictures", methods=["GET", "POST"])
def page(journal_id: int, variant_id: int) -> Any:
    """All pictures of a variant; one more can be added."""
    variant, form = _variant(journal_id, variant_id), PictureForm()

    def keep() -> str:
        service.add_picture(db(), photo_folder(), variant, picture_sent("photo"), form.says.data)
        flash(say("The picture is kept, without where and when it was taken."))
        return _here(variant)

    if done := submit(form, keep):
        return done
    shown = render_template(
        "journals/pictures.html", variant=variant, form=form,
        pictures=service.pictures_of(db(), variant), most=service.MOST_PICTURES,
    )  # fmt: skip
    return shown, 422 if form.is_submitted() else 200


@pages.get("/pictures/<int:picture_id>.jpg")
def large(picture_id: int) -> Response:
    """The picture itself."""
    return _file(need(VariantPicture, picture_id).file)


@pages.get("/pictures/<int:picture_id>-small.jpg")
def small(picture_id: int) -> Response:
    """The same picture, for a list."""
    return _file(need(VariantPicture, picture_id).small)


def _file(name: str) -> Response:
    return send_from_directory(photo_folder(), name, mimetype="image/jpeg")


@pages.post("/pictures/<int:picture_id>/first")
def first(picture_id: int) -> Any:
    """Let it stand for the journal on lists."""
    words = say("This picture stands for the journal from now on.")
    return _press(picture_id, words, lambda picture: service.stand_first(db(), picture))


@pages.post("/pictures/<int:picture_id>/remove")
def remove(picture_id: int) -> Any:
    """Take a picture off; asked about on the page first."""
    return _press(
        picture_id, say("The picture is gone."),
        lambda picture: service.remove_picture(db(), photo_folder(), picture),
    )  # fmt: skip


def _press(picture_id: int, words: str, do: Callable[[VariantPicture], None]) -> Any:
    """Do something with the picture that was shown, and say so on the page of them all."""
    picture = need(VariantPicture, picture_id)
    here = _here(picture.variant)

    def done() -> str:
        service.check_shown(picture, request.form.get("file", ""))
        do(picture)
        flash(words)
        return here

    return press(done, lambda: redirect(here))
