"""The stockroom: what is here, what came, what was counted, and the history of each thing."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from wtforms import HiddenField, SelectField

from app.core.errors import DomainError
from app.core.length import METRE
from app.core.states import MovementKind
from app.documents.charts import price_drawing, swatch
from app.language import say, to_say
from app.models import Lot, Material, Movement, Paper, StockSheet, Variant
from app.services.bench.batches import where_used
from app.services.designs import counting, journals
from app.services.designs.pictures import first_pictures, pictures_of
from app.services.planning.projected_stock import timeline
from app.services.planning.requirements import Needs
from app.services.purchasing.buy_list import buy_list
from app.services.purchasing.lasting import lasting
from app.services.purchasing.purchases import price_history
from app.services.stock import history as story
from app.services.stock import ledger as stock
from app.services.stock import materials as service
from app.services.stock import offcuts
from app.services.stock.offcuts import Offcut
from app.services.stock.recipes import recipe_of
from app.units import M2
from app.web.frame.asked import number_asked
from app.web.frame.fields import (
    Form,
    LengthField,
    MoneyField,
    Needed,
    PastDayField,
    QuantityField,
    WholeField,
    choice_field,
    offered,
    text_field,
)
from app.web.frame.filters import bare_length, day, quantity, ref_url, rounded_money
from app.web.frame.session import db, need, prices, today
from app.web.frame.submission import press, submit

pages = Blueprint("stockroom", __name__, url_prefix="/stockroom")

WHYS = (
    ("", to_say("– say why –")),
    ("used at the bench", to_say("used at the bench")),
    ("spoiled", to_say("spoiled")),
    ("sold", to_say("sold")),
    ("found again", to_say("found again")),
    ("miscounted before", to_say("miscounted before")),
    ("made", to_say("made and put on the shelf")),
)

GONE = (to_say("used at the bench"), to_say("spoiled"))


class ReceiveForm(Form):
    """What came in: how much, for how much in all, on which day."""

    quantity = QuantityField(to_say("How much came"), [Needed()])
    cost = MoneyField(
        to_say("Cost in all"), [Needed()], description=to_say("With its share of the carriage.")
    )
    on = PastDayField(to_say("On"), [Needed()])
    note = text_field(to_say("Note"))


class CountForm(Form):
    """What lies here, counted."""

    counted = QuantityField(to_say("Counted"), [Needed()])
    why = choice_field(to_say("If it differs"), WHYS)
    expected = HiddenField()


class CutForm(Form):
    """So much cut off one length, and why."""

    lot = SelectField(to_say("Off the length of"), coerce=int, validate_choice=False)
    much = QuantityField(to_say("How much"), [Needed()], measure="length")
    gone = choice_field(to_say("It is"), (("", to_say("– say why –")), *((w, w) for w in GONE)))


class OffcutForm(Form):
    """Remainders kept of sheets that were cut."""

    sheets_cut = WholeField(to_say("Sheets cut from the stock"), [Needed()], least=1, most=100_000)
    width_nm = LengthField(to_say("Offcut, along the sheet's width"), [Needed()])
    height_nm = LengthField(to_say("and along its height"), [Needed()])
    kept = WholeField(to_say("How many are kept"), [Needed()], least=1, most=100_000)


@pages.get("")
def page() -> str:
    """Papers by size and grain, materials, finished journals, suppliers."""
    return render_template(
        "stockroom/page.html",
        papers=service.papers(db()),
        materials=service.materials(db()),
        variants=(finished := _on_the_shelf()),
        pictures=first_pictures(db(), finished),
        put_away=[
            *((p.name, url_for("papers.one", paper_id=p.id)) for p in service.away(db(), Paper)),
            *(
                (m.name, url_for("goods.material", material_id=m.id))
                for m in service.away(db(), Material)
            ),
        ],
        suppliers=service.suppliers(db()),
        holdings=stock.holdings(db()),
        lasts=lasting(db(), today()),
        aside=stock.held_aside(db()),
        offers_in_force=service.offers_in_force,
        offcuts=(kept := offcuts.offcuts(db())),
        swatches={o.lot.id: swatch(o.lot.offcut_width_nm or 1, o.lot.offcut_height_nm or 1,
                                   f"offcut-{o.lot.id}", bare_length) for o in kept},
    )  # fmt: skip


def _on_the_shelf() -> list[Variant]:
    """Variants made now, and older ones of which some are still here."""
    made = journals.sellable(db())
    here = [key for key, held in stock.holdings(db()).items() if held.quantity]
    return made + [v for v in journals.variants_by_key(db(), here) if v not in made]


def _find(key: str) -> StockSheet | Material | Variant:
    item = stock.find_item(db(), key)
    if item is None:
        abort(404)
    return item


def _receive_form(item: StockSheet | Material | Variant) -> ReceiveForm:
    class Measured(ReceiveForm):
        quantity = QuantityField(say("How much came"), [Needed()], measure=stock.measure_of(item))

    return Measured(data={"on": today()})


def _count_form(item: StockSheet | Material | Variant, here: int) -> CountForm:
    class Measured(CountForm):
        counted = QuantityField(say("Counted"), [Needed()], measure=stock.measure_of(item))

    return Measured(data={"expected": str(here)})


def _item_page(
    item: StockSheet | Material | Variant,
    receive: ReceiveForm | None = None,
    count: CountForm | None = None,
    status: int = 200,
    keep: OffcutForm | None = None,
    cut: CutForm | None = None,
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
        history=story.history(db(), item, number_asked(request.args, "before")),
        receive=receive or _receive_form(item),
        count=count or _count_form(item, here),
        current=current,
        is_sheet=isinstance(item, StockSheet),
        lengths=_lengths(item),
        cut=cut or _cut_form(item),
        is_variant=isinstance(item, Variant),
        pictures=pictures_of(db(), item) if isinstance(item, Variant) else [],
        aside=stock.held_aside(db()).get(stock.item_key(item)),
        keep=keep or OffcutForm(formdata=None),
        offcuts=offcuts.offcuts(db(), item) if isinstance(item, StockSheet) else [],
        price_chart=_price_chart(item),
        used=[] if isinstance(item, Variant) else where_used(db(), item),
        recipe=None if isinstance(item, Variant) else recipe_of(db(), item),
        own=prices().own.get(stock.item_key(item)),
        **_coming_and_going(item, here),
    ), status


def _lengths(item: StockSheet | Material | Variant) -> list[Offcut]:
    """The lengths that are here of a roll."""
    return offcuts.lengths(db(), item) if isinstance(item, StockSheet) else []


def _cut_form(item: StockSheet | Material | Variant) -> CutForm:
    form = CutForm() if request.endpoint == "stockroom.cut_off" else CutForm(formdata=None)
    form.lot.choices = offered(
        (
            row.lot.id,
            say(
                "{much}, here since {day}",
                much=quantity(row.quantity, item), day=day(row.lot.came_on),
            ),
        )
        for row in _lengths(item)
    )  # fmt: skip
    return form


def _price_chart(item: StockSheet | Material | Variant) -> str:
    """What a pack unit cost over time, where there is more than one price to show."""
    if isinstance(item, Variant):
        return ""
    rows = price_history(db(), item)
    if len(rows) < 2:
        return ""
    units = {"length": METRE, "mass": 1_000_000, "volume": 1_000_000, "area": M2}
    called = {
        "length": say("a metre"), "mass": say("a kilogram"), "volume": say("a litre"),
        "area": say("a m²"),
    }  # fmt: skip
    measure = stock.measure_of(item)
    unit = units.get(measure, 1)
    return price_drawing(
        [(r.on, r.each * unit, r.supplier, r.bought) for r in rows],
        called.get(measure, say("one")), lambda amount: rounded_money(amount), "prices",
    )  # fmt: skip


def _wanted() -> Needs | None:
    """All that is wanted, what the shop makes for itself with it."""
    return buy_list(db(), today()).needs if prices().recipes else None


def _coming_and_going(item: StockSheet | Material | Variant, here: int) -> dict[str, Any]:
    """Dated demands and arrivals, and what is left after each; sheets are planned together."""
    rows = [] if isinstance(item, StockSheet) else timeline(db(), item, today(), here, _wanted())
    for row in rows:
        row["link"] = ref_url(row["ref"]) if row["ref"] else ""
    return {"timeline": rows, "coming": bool(rows), "going": bool(rows)}


@pages.get("/items/<key>")
def item(key: str) -> Any:
    """One thing: what is here, forms to receive and count it, its offers, its history."""
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
    return say(
        "But {supplier} would charge about {usual} for that amount: if the unit or the cost is a "
        "mistake, undo it below.",
        supplier=offered.offer.supplier.name, usual=usual,
    )  # fmt: skip


@pages.post("/items/<key>/receive")
def receive(key: str) -> Any:
    """Take in what came."""
    found = _find(key)
    form = _receive_form(found)

    def take_in() -> str:
        kind = MovementKind.MADE if isinstance(found, Variant) else MovementKind.RECEIVED
        stock.receive(
            db(), found, form.quantity.data, form.cost.data, form.on.data, kind=kind,
            note=form.note.data,
        )  # fmt: skip
        flash(" ".join(filter(None, [say("It is on the shelf."), _dear(found, form)])))
        return url_for("stockroom.item", key=key)

    return submit(form, take_in) or _item_page(found, receive=form, status=422)


@pages.post("/items/<key>/count")
def count(key: str) -> Any:
    """Write down what was counted."""
    found = _find(key)
    form = _count_form(found, 0)

    def write_down() -> str:
        typed = form.expected.data or ""
        expected = int(typed) if typed.isdecimal() and len(typed) < 18 else None
        difference = counting.count(
            db(), found, form.counted.data, today(), form.why.data, expected
        )
        flash(say("The difference is saved.") if difference else say("As expected."))
        return url_for("stockroom.item", key=key)

    return submit(form, write_down) or _item_page(found, count=form, status=422)


@pages.post("/items/<key>/reverse/<int:movement_id>")
def reverse(key: str, movement_id: int) -> Any:
    """Undo a movement by its opposite."""
    found = _find(key)
    movement = need(Movement, movement_id)
    if stock.thing_of(movement.lot) is not found:
        abort(404)
    here = url_for("stockroom.item", key=key)

    def undo() -> str:
        stock.reverse(db(), movement, say("undone by hand"))
        flash(say("Undone; both entries stay in the history."))
        return here

    return press(undo, lambda: redirect(here))


@pages.post("/items/<key>/offcuts")
def keep_offcut(key: str) -> Any:
    """Cut sheets and keep what is left of them."""
    found = _find(key)
    if not isinstance(found, StockSheet):
        abort(404)
    form = OffcutForm()

    def keep() -> str:
        offcuts.keep_offcuts(
            db(), found, sheets_cut=form.sheets_cut.data, width_nm=form.width_nm.data,
            height_nm=form.height_nm.data, quantity=form.kept.data, on=today(),
            note=say("kept by hand"),
        )  # fmt: skip
        flash(say("The offcuts are on the shelf."))
        return url_for("stockroom.item", key=key) + "#offcuts"

    def refuse(error: DomainError) -> None:
        error.field = "kept" if error.field == "quantity" else error.field
        form.blame(error)

    return submit(form, keep, refuse=refuse) or _item_page(found, keep=form, status=422)


@pages.post("/items/<key>/lengths")
def cut_off(key: str) -> Any:
    """Cut something off one length of a roll, for no batch."""
    found = _find(key)
    if not isinstance(found, StockSheet) or not found.by_length:
        abort(404)
    form = _cut_form(found)

    def cut() -> str:
        offcuts.cut_off(db(), need(Lot, form.lot.data), form.much.data, form.gone.data)
        flash(say("Saved."))
        return url_for("stockroom.item", key=key) + "#lengths"

    return submit(form, cut) or _item_page(found, cut=form, status=422)


@pages.post("/items/<key>/offcuts/<int:lot_id>/use")
def use_offcut(key: str, lot_id: int) -> Any:
    """Take an offcut away."""
    found, lot = _find(key), need(Lot, lot_id)
    if not isinstance(found, StockSheet) or lot.stock_sheet_id != found.id:
        abort(404)
    here = url_for("stockroom.item", key=key)

    def use() -> str:
        why = request.form.get("why", "")
        if why not in GONE:
            raise DomainError(say("Say what became of it."))
        offcuts.use_offcut(db(), lot, 1, why)
        flash(say("Saved."))
        return here + "#offcuts"

    return press(use, lambda: redirect(here))
