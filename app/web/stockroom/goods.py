"""Materials that are no paper, suppliers, and what they offer."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.language import say, to_say
from app.models import Material, Paper, StockSheet, Supplier, Variant
from app.services.stock import materials as service
from app.services.stock.ledger import find_item, item_key, measure_of
from app.units import MEASURES
from app.web.frame.fields import (
    DayField,
    Form,
    MoneyField,
    Needed,
    PercentField,
    QuantityField,
    WholeField,
    choice_field,
    note_field,
    offered,
    text_field,
    typed_version,
)
from app.web.frame.session import db, find, need, today
from app.web.frame.submission import press, submit

pages = Blueprint("goods", __name__, url_prefix="/stockroom")

MEASURE_WORDS = {
    "length": to_say("by length (thread, cord, ribbon)"),
    "count": to_say("by count (beads, rings, buttons)"),
    "mass": to_say("by weight (paste powder, wax)"),
    "volume": to_say("by volume (glue, ink)"),
    "area": to_say("by area (leather, cloth, foil)"),
}


class MaterialForm(Form):
    """Anything that is used and is no paper."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
    measure = choice_field(to_say("Measured"), [(m, MEASURE_WORDS[m]) for m in MEASURES])
    waste = PercentField(
        to_say("Lost in use"),
        [Needed()],
        description=to_say(
            "Ends, knots, beads that roll away. Of leather: 43% where 70% of it is of use."
        ),
    )
    weight_mg = QuantityField(
        to_say("Weight of one, of a metre or of a m²"), [Needed()], measure="mass",
        description=to_say("In grams; for the journal's weight. Zero if you do not know."),
    )  # fmt: skip
    note = note_field()


USUAL_LEAD_DAYS = 5
"""Days until something comes, where nothing else is said of it."""


class SoldForm(Form):
    """Who sells a thing that is being added, asked on the same page; all of it may be empty."""

    sold_by = text_field(
        to_say("Sold by"), description=to_say("Empty if nobody sells it, or you do not know yet.")
    )
    pack_quantity = QuantityField(to_say("A pack holds"))
    pack_price = MoneyField(to_say("A pack costs"))

    def offer_of(self, item: StockSheet | Material) -> str:
        """Record the offer that was typed, of a pack of one where nothing else is said and one can
        be counted; a sentence about it, empty where none was typed."""
        held = self.pack_quantity.data
        if not self.sold_by.data and self.pack_price.data is None and held is None:
            return ""
        if not self.sold_by.data:
            raise DomainError(
                say("Say who sells it for that, or leave pack and price empty."), "sold_by"
            )
        if self.pack_price.data is None:
            raise DomainError(
                say("What does a pack cost at {supplier}?", supplier=self.sold_by.data),
                "pack_price",
            )
        if held is None and measure_of(item) != "count":
            raise DomainError(say("How much does a pack hold?"), "pack_quantity")
        service.make_offer(
            db(), service.supplier_called(db(), self.sold_by.data), item,
            pack_quantity=1 if held is None else held, breaks={1: self.pack_price.data},
            lead_days=USUAL_LEAD_DAYS, valid_from=today(),
        )  # fmt: skip
        return say(
            "It is taken to come within {days} days; another offer says it better.",
            days=USUAL_LEAD_DAYS,
        )


class SupplierForm(Form):
    """Whom things are bought from."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
    reach = text_field(to_say("How to reach them"))
    note = note_field()


class OfferForm(Form):
    """What a supplier sells: a pack, its prices, the days it takes."""

    supplier = choice_field(to_say("Supplier"), [], coerce=int)
    new_supplier = text_field(to_say("or a new one"))
    pack_quantity = QuantityField(to_say("A pack holds"), [Needed()])
    pack_price = MoneyField(to_say("A pack costs"), [Needed()])
    second_from = WholeField(to_say("From this many packs"), least=2, most=100_000, words=("pack",))
    second_price = MoneyField(to_say("a pack costs"))
    third_from = WholeField(to_say("From this many packs"), least=2, most=100_000, words=("pack",))
    third_price = MoneyField(to_say("a pack costs"))
    carriage = MoneyField(
        to_say("Carriage for a pack"),
        description=to_say("Where you know it. Left empty, the last receipt from there says it."),
    )
    lead_days = WholeField(
        to_say("Days until it comes"), [Needed()], least=0, most=365, words=("day",)
    )
    valid_from = DayField(to_say("Holds from"), [Needed()])

    def breaks(self) -> dict[int, Decimal]:
        """Least packs to the price of a pack; a break needs both of its figures."""
        found = {1: self.pack_price.data}
        for least, price in (
            (self.second_from, self.second_price),
            (self.third_from, self.third_price),
        ):
            if (least.data is None) != (price.data is None):
                empty = least if least.data is None else price
                raise DomainError(
                    say("A price break needs a number of packs and a price."), empty.name
                )
            if least.data is not None:
                if least.data in found:
                    raise DomainError(
                        say("Two breaks start at the same number of packs."), least.name
                    )
                found[least.data] = price.data
        return found


MATERIAL_FIELDS = ("name", "measure", "waste", "weight_mg", "note")


def _new_material_form(start: dict[str, Any]) -> Any:
    """A new material with who sells it; what a pack holds is read by the measure that is chosen."""
    chosen = request.form.get("measure", "")
    measured = chosen if chosen in MEASURES else "count"

    class NewMaterialForm(MaterialForm, SoldForm):
        pack_quantity = QuantityField(
            say("A pack holds"), measure=measured, description=say("50 m, 100, 250 g.")
        )

    return NewMaterialForm(data=start)


@pages.route("/materials/new", methods=["GET", "POST"])
@pages.route("/materials/<int:material_id>", methods=["GET", "POST"])
def material(material_id: int | None = None) -> Any:
    """Add a material or change one."""
    known = need(Material, material_id) if material_id is not None else None
    start = {"waste": Decimal("0.05"), "weight_mg": 0}
    form = MaterialForm(obj=known) if known else _new_material_form(start)

    def save() -> str:
        version = typed_version(form.version.data)
        values = {name: form[name].data for name in MATERIAL_FIELDS}
        saved = service.save_material(db(), known, values, version)
        if known is not None:
            flash(say("Saved."))
            return url_for("stockroom.item", key=item_key(saved))
        if offer := form.offer_of(saved):
            flash(say("{name} is on the list.", name=saved.name) + " " + offer)
            return url_for("stockroom.page")
        flash(say("{name}: now who sells it?", name=saved.name))
        return url_for("stockroom.item", key=item_key(saved))

    if done := submit(form, save, now=lambda: MaterialForm(formdata=None, obj=known)):
        return done
    page = render_template(
        "stockroom/material.html", form=form, material=known, sellers=service.suppliers(db())
    )
    return page, 422 if form.is_submitted() else 200


@pages.post("/materials/<int:material_id>/away")
def put_away(material_id: int) -> Any:
    """Take a material off the lists, or put it back."""
    here = url_for("goods.material", material_id=material_id)
    return put_away_or_back(need(Material, material_id), here)


def put_away_or_back(thing: Paper | Material, here: str) -> Any:
    """What the button on a paper's or a material's page asks; ``here`` is that page."""

    def put() -> str:
        service.put_away(thing, away="back" not in request.form)
        flash(
            say("Put away. It can be brought back here.") if thing.retired else say("Brought back.")
        )
        return here

    return press(put, lambda: redirect(here))


@pages.route("/suppliers/new", methods=["GET", "POST"])
@pages.route("/suppliers/<int:supplier_id>", methods=["GET", "POST"])
def supplier(supplier_id: int | None = None) -> Any:
    """Add a supplier or change one."""
    known = need(Supplier, supplier_id) if supplier_id is not None else None
    form = SupplierForm(obj=known)

    def save() -> str:
        service.save_supplier(db(), known, form.values(), typed_version(form.version.data))
        flash(say("Saved."))
        return url_for("stockroom.page") + "#suppliers"

    if done := submit(form, save, now=lambda: SupplierForm(formdata=None, obj=known)):
        return done
    page = render_template("stockroom/supplier.html", form=form, supplier=known)
    return page, 422 if form.is_submitted() else 200


@pages.route("/items/<key>/offers/new", methods=["GET", "POST"])
def offer(key: str) -> Any:
    """Record what a supplier sells of a sheet or a material."""
    item = find_item(db(), key)
    if item is None or isinstance(item, Variant):
        abort(404)
    form = _offer_form(item)

    def make() -> str:
        service.make_offer(
            db(), _supplier_of(form), item, pack_quantity=form.pack_quantity.data,
            breaks=form.breaks(), lead_days=form.lead_days.data, valid_from=form.valid_from.data,
            carriage=form.carriage.data,
        )  # fmt: skip
        flash(say("Saved. Earlier offers stay on record."))
        return url_for("stockroom.item", key=key)

    if done := submit(form, make):
        return done
    page = render_template("stockroom/offer.html", form=form, item=item, key=key)
    return page, 422 if form.is_submitted() else 200


def _offer_form(item: StockSheet | Material) -> OfferForm:
    measured = measure_of(item)

    class Measured(OfferForm):
        pack_quantity = QuantityField(say("A pack holds"), [Needed()], measure=measured)

    form = Measured(data={"valid_from": today(), "lead_days": USUAL_LEAD_DAYS})
    known = [(s.id, s.name) for s in service.suppliers(db())]
    form.supplier.choices = offered([*known, (0, say("– a new one –"))])
    return form


def _supplier_of(form: OfferForm) -> Supplier:
    if form.new_supplier.data:
        return service.save_supplier(db(), None, {"name": form.new_supplier.data})
    found = find(Supplier, form.supplier.data)
    if found is None:
        raise DomainError(say("Pick a supplier, or type the name of a new one."), "new_supplier")
    return found
