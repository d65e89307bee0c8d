"""The stockroom: what is here, what came, what was counted, and the story of each thing."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.models import Material, Movement, Paper, StockSheet, Variant
from app.services import journals, stock
from app.services import materials as service
from app.web.fields import (
    DayField,
    Form,
    MoneyField,
    Needed,
    QuantityField,
    choice_field,
    text_field,
)
from app.web.filters import rounded_money
from app.web.session import begin_deed, db, end_deed, need, today

pages = Blueprint("stockroom", __name__, url_prefix="/stockroom")

WHYS = (
    ("", "– say why –"),
    ("used at the bench", "used at the bench"),
    ("spoiled", "spoiled"),
    ("sold", "sold"),
    ("found again", "found again"),
    ("miscounted before", "miscounted before"),
    ("made", "made and put on the shelf"),
)


class ReceiveForm(Form):
    """What came in: how much, for how much in all, on which day."""

    quantity = QuantityField("How much came", [Needed()])
    cost = MoneyField("Cost in all", [Needed()], description="With its share of the carriage.")
    on = DayField("On", [Needed()])
    note = text_field("Note")


class CountForm(Form):
    """What lies here, counted."""

    counted = QuantityField("Counted", [Needed()])
    why = choice_field("If it differs", WHYS)
    expected = HiddenField()


@pages.get("")
def page() -> str:
    """Papers by size and grain, materials, finished journals, suppliers."""
    return render_template(
        "stockroom/page.html",
        papers=service.papers(db()),
        materials=service.materials(db()),
        variants=_on_the_shelf(),
        put_away=[
            *((p.name, url_for("papers.one", paper_id=p.id)) for p in service.away(db(), Paper)),
            *(
                (m.name, url_for("goods.material", material_id=m.id))
                for m in service.away(db(), Material)
            ),
        ],
        suppliers=service.suppliers(db()),
        holdings=stock.holdings(db()),
        offers_in_force=service.offers_in_force,
    )


def _on_the_shelf() -> list[Variant]:
    """Variants made now, and older ones of which some are still here."""
    made = journals.sellable(db())
    here = [key for key, held in stock.holdings(db()).items() if held.quantity]
    older = (stock.find_item(db(), key) for key in here if key.startswith("variant-"))
    return made + [v for v in older if isinstance(v, Variant) and v not in made]


def _find(key: str) -> StockSheet | Material | Variant:
    item = stock.find_item(db(), key)
    if item is None:
        abort(404)
    return item


def _measure(item: StockSheet | Material | Variant) -> str:
    return item.measure if isinstance(item, Material) else "count"


def _receive_form(item: StockSheet | Material | Variant) -> ReceiveForm:
    class Measured(ReceiveForm):
        quantity = QuantityField("How much came", [Needed()], measure=_measure(item))

    return Measured(data={"on": today()})


def _count_form(item: StockSheet | Material | Variant, here: int) -> CountForm:
    class Measured(CountForm):
        counted = QuantityField("Counted", [Needed()], measure=_measure(item))

    return Measured(data={"expected": str(here)})


def _item_page(
    item: StockSheet | Material | Variant,
    receive: ReceiveForm | None = None,
    count: CountForm | None = None,
    status: int = 200,
) -> Any:
    here = stock.on_hand(db(), item)
    if count is not None:
        count.expected.data, count.expected.raw_data = str(here), None
    current = [] if isinstance(item, Variant) else service.offers_in_force(item.offers, today())
    return render_template(
        "stockroom/item.html",
        item=item,
        key=stock.item_key(item),
        here=here,
        story=stock.story(db(), item),
        receive=receive or _receive_form(item),
        count=count or _count_form(item, here),
        current=current,
        is_sheet=isinstance(item, StockSheet),
        is_variant=isinstance(item, Variant),
    ), status


@pages.get("/items/<key>")
def item(key: str) -> Any:
    """One thing: what is here, forms to receive and count it, its offers, its story."""
    return _item_page(_find(key))


def _dear(item: StockSheet | Material | Variant, form: ReceiveForm) -> str:
    """A word of doubt where what came cost many times, or a fraction of, what it is offered for."""
    if isinstance(item, Variant) or not form.cost.data:
        return ""
    offered = service.price_for(item, form.quantity.data, form.on.data)
    if offered is None or not offered.each:
        return ""
    times = Fraction(form.cost.data) / form.quantity.data / offered.each
    if Fraction(1, 5) <= times <= 5:
        return ""
    usual = rounded_money(offered.each * form.quantity.data)
    return (
        f" But {offered.offer.supplier.name} would ask about {usual} for so much: if the unit or "
        "the cost was a slip, undo it below."
    )


@pages.post("/items/<key>/receive")
def receive(key: str) -> Any:
    """Take in what came."""
    found = _find(key)
    form = _receive_form(found)
    begin_deed(form)
    if form.validate():
        kind = "made" if isinstance(found, Variant) else "received"
        try:
            stock.receive(
                db(), found, form.quantity.data, form.cost.data, form.on.data,
                kind=kind, note=form.note.data,
            )  # fmt: skip
        except DomainError as error:
            form.blame(error)
        else:
            flash("It is on the shelf." + _dear(found, form))
            return end_deed(form, url_for("stockroom.item", key=key))
    return _item_page(found, receive=form, status=422)


@pages.post("/items/<key>/count")
def count(key: str) -> Any:
    """Write down what was counted."""
    found = _find(key)
    form = _count_form(found, 0)
    begin_deed(form)
    if form.validate():
        expected = form.expected.data or ""
        try:
            difference = stock.count(
                db(), found, form.counted.data, today(), form.why.data,
                int(expected) if expected.isdecimal() and len(expected) < 18 else None,
            )  # fmt: skip
        except DomainError as error:
            form.blame(error)
        else:
            flash("As expected." if not difference else "The difference is written down.")
            return end_deed(form, url_for("stockroom.item", key=key))
    return _item_page(found, count=form, status=422)


@pages.post("/items/<key>/reverse/<int:movement_id>")
def reverse(key: str, movement_id: int) -> Any:
    """Undo a movement by its opposite."""
    found = _find(key)
    movement = need(Movement, movement_id)
    if movement.lot not in {m.lot for m in stock.story(db(), found)}:
        abort(404)
    form = Form()
    begin_deed(form)
    try:
        stock.reverse(db(), movement, "undone by hand")
    except DomainError as error:
        flash(error.message)
        return redirect(url_for("stockroom.item", key=key))
    flash("Undone; both entries stay in the story.")
    return end_deed(form, url_for("stockroom.item", key=key))
