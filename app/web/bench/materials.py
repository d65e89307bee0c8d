"""More of a material for a batch than was planned, or some of it back."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, flash, render_template, url_for

from app.language import say, to_say
from app.models import Batch, Material, StockSheet
from app.services.bench import materials as service
from app.services.stock.ledger import find_item, measure_of, on_hand
from app.web.frame.fields import Form, Needed, QuantityField, choice_field
from app.web.frame.filters import rounded_money
from app.web.frame.session import db, need, today
from app.web.frame.submission import submit

pages = Blueprint("batch_materials", __name__, url_prefix="/stockroom/batches")
BACK = "back"
WAYS = (
    (to_say("spoiled"), to_say("taken as well: some was spoiled")),
    (to_say("more was needed"), to_say("taken as well: more was needed")),
    (BACK, to_say("back in the stock: not needed")),
)
"""What was done with it; why more was taken is written down as it is said."""


@pages.route("/<int:batch_id>/materials/<key>", methods=["GET", "POST"])
def change(batch_id: int, key: str) -> Any:
    """Take more of a thing for a batch, or bring some back."""
    batch, item = need(Batch, batch_id), find_item(db(), key)
    if not isinstance(item, StockSheet | Material):
        abort(404)

    measure = measure_of(item)

    class More(Form):
        quantity = QuantityField(say("How much"), [Needed()], measure=measure)
        why = choice_field(say("It is"), WAYS)

    form = More()

    def move() -> str:
        if form.why.data == BACK:
            cost = service.bring_back(db(), batch, item, form.quantity.data, today())
            worth = rounded_money(cost)
            flash(say("Back in the stock, {worth} less in the batch.", worth=worth))
        else:
            why = say(form.why.data)
            cost = service.take_more(db(), batch, item, form.quantity.data, why, today())
            flash(say("Taken, {worth} more in the batch.", worth=rounded_money(cost)))
        return url_for("batches.one", batch_id=batch.id)

    if done := submit(form, move):
        return done
    page = render_template(
        "bench/materials.html", batch=batch, item=item, form=form, here=on_hand(db(), item),
        inside=service.left_over(db(), batch, item),
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200
