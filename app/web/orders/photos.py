"""Pictures of what is asked for, on the page of an order."""

from __future__ import annotations

from typing import Any

from flask import (
    Blueprint,
    Response,
    abort,
    flash,
    send_from_directory,
    url_for,
)

from app.language import say
from app.models import Order, OrderPhoto
from app.services.orders import photos as service
from app.web.frame.session import db, need, photo_folder
from app.web.frame.submission import PictureForm, picture_sent, press, submit

pages = Blueprint("photos", __name__, url_prefix="/orders")


def _of(order: Order, photo_id: int) -> OrderPhoto:
    photo = need(OrderPhoto, photo_id)
    if photo.order_id != order.id:
        abort(404)
    return photo


@pages.post("/<int:order_id>/photos")
def add(order_id: int) -> Any:
    """Keep a picture."""
    order, form = need(Order, order_id), PictureForm()

    def keep() -> str:
        service.add_photo(db(), photo_folder(), order, picture_sent("photo"), form.says.data)
        flash(say("The picture is kept, without where and when it was taken."))
        return url_for("orders.one", order_id=order.id) + "#photos"

    def page() -> Any:
        from app.web.orders.orders import order_page

        return order_page(order, photo=form, status=422)

    return submit(form, keep) or page()


@pages.get("/<int:order_id>/photos/<int:photo_id>.jpg")
def picture(order_id: int, photo_id: int) -> Response:
    """The picture itself."""
    photo = _of(need(Order, order_id), photo_id)
    return send_from_directory(photo_folder(), photo.file, mimetype="image/jpeg")


@pages.post("/<int:order_id>/photos/<int:photo_id>/remove")
def remove(order_id: int, photo_id: int) -> Any:
    """Take a picture off; asked about on the page first."""
    order = need(Order, order_id)
    photo = _of(order, photo_id)

    def take_off() -> str:
        service.remove_photo(db(), photo_folder(), photo)
        flash(say("The picture is gone."))
        return url_for("orders.one", order_id=order.id) + "#photos"

    def page() -> Any:
        from app.web.orders.orders import order_page

        return order_page(order, status=422)

    return press(take_off, page)
