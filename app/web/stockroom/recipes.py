"""How a sheet or a material is made in the shop: its recipe, what it costs, and making some."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from wtforms import FieldList, FormField, HiddenField
from wtforms import Form as PlainForm

from app.core.errors import DomainError
from app.core.money import half_up, rounded_together
from app.core.states import SheetKind
from app.language import say, say_list, to_say
from app.models import Material, Offer, Paper, Recipe, StockSheet
from app.services.bench import goods
from app.services.bench.batch_supply import ShortError, Shortfall
from app.services.designs.made_here import MadeCost
from app.services.stock import materials as shelf
from app.services.stock import recipes as service
from app.services.stock.ledger import find_item, holdings, item_key, measure_of
from app.services.stock.recipes import Taken
from app.units import parse_count, type_quantity
from app.web.frame.amounts import amount_typed
from app.web.frame.fields import (
    MARKED,
    Form,
    LengthField,
    MinutesField,
    Needed,
    PercentField,
    QuantityField,
    WholeField,
    choice_field,
    offered,
    speak,
    text_field,
    typed_version,
)
from app.web.frame.filters import quantity
from app.web.frame.session import db, prices, shop, today
from app.web.frame.submission import submit

pages = Blueprint("recipes", __name__, url_prefix="/stockroom/items")
GRAINS = (
    ("", to_say("either way")),
    ("height", to_say("along its height")),
    ("width", to_say("along its width")),
)
MOST_MINUTES = 10_000


class TakenForm(PlainForm):
    """What one time takes of one thing: pieces of a paper, or so much of a material."""

    thing = choice_field(to_say("Of what"), [], default="")
    amount = text_field(to_say("How much"), most=30)
    width = LengthField(to_say("Cut to, width"))
    height = LengthField(to_say("Cut to, height"))
    grain = choice_field(to_say("Its grain"), GRAINS, default="")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak(self)

    @property
    def untouched(self) -> bool:
        """Whether nothing was chosen or typed here."""
        return not (self.thing.data or self.amount.data or self.width.typed or self.height.typed)

    def read(self, things: Mapping[str, Paper | Material]) -> Taken | None:
        """The part as typed; None, its fields blamed, where it is wrong."""
        thing = things.get(self.thing.data)
        amount = 0
        if thing is None:
            self.thing.errors = [*self.thing.errors, say("Choose what it is of.")]
            return None
        is_paper = isinstance(thing, Paper)
        try:
            amount = self._amount(thing)
        except DomainError as error:
            self.amount.errors = [*self.amount.errors, error.message]
        for side in (self.width, self.height):
            if is_paper and not side.data and not side.errors:
                side.errors = [*side.errors, say("Say how large a piece is.")]
        if any(field.errors for field in self):
            return None
        if not is_paper:
            return Taken(thing, amount)
        return Taken(thing, amount, self.width.data, self.height.data, self.grain.data or None)

    def _amount(self, thing: Paper | Material) -> int:
        if isinstance(thing, Material):
            return amount_typed(self.amount.data or "", thing)
        count = parse_count((self.amount.data or "").strip() or "1", ("piece", "sheet"))
        if not 0 < count <= 1000:
            raise DomainError(say("Between 1 and 1000 pieces."))
        return count


class RecipeForm(Form):
    """What one time makes and takes, its work, and what of it is lost."""

    version = HiddenField()
    setup_minutes = MinutesField(
        to_say("Minutes to set up"), description=to_say("Once for all made together.")
    )
    minutes = MinutesField(to_say("Minutes each time"))
    days = WholeField(
        to_say("Days until it is done"), [Needed()], least=0, most=365,
        description=to_say("Drying with it."),
    )  # fmt: skip
    loss = PercentField(
        to_say("Lost as a rule"), [Needed()], most=90,
        description=to_say("Of what is begun: 10% of 30 leave 27."),
    )  # fmt: skip
    parts = FieldList(FormField(TakenForm), min_entries=1, max_entries=service.MOST_PARTS)


class RemoveForm(Form):
    """Which recipe is given up."""

    version = HiddenField()


class MakeForm(Form):
    """How many times to make it."""

    times = WholeField(to_say("How many times"), [Needed()], least=1, most=goods.MOST_TIMES)


def _item(key: str) -> StockSheet | Material:
    item = find_item(db(), key)
    if not isinstance(item, StockSheet | Material):
        abort(404)
    return item


def _things(recipe: Recipe | None) -> dict[str, Paper | Material]:
    """Everything that something can be made of, by the words of its choice.

    What the recipe has stays, even when it was put away since.
    """
    things: list[Paper | Material] = [*shelf.papers(db()), *shelf.materials(db())]
    things += [service.thing_of(part) for part in (recipe.parts if recipe else ())]
    return {service.node_of(thing): thing for thing in things}


def _form(item: StockSheet | Material, recipe: Recipe | None, **more: Any) -> RecipeForm:
    class Measured(RecipeForm):
        makes = QuantityField(say("One time makes"), [Needed()], measure=measure_of(item))

    form = Measured(data=_start(recipe), **more)
    if "another" in request.form and len(form.parts) < service.MOST_PARTS:
        form.parts.append_entry()
    known = [("", say("– none –")), *((key, thing.name) for key, thing in _things(recipe).items())]
    for entry in form.parts:
        entry.form.thing.choices = offered(known)
    return form


def _start(recipe: Recipe | None) -> dict[str, Any]:
    if recipe is None:
        return {"days": 1, "loss": 0}
    rows = []
    for part in recipe.parts:
        thing = service.thing_of(part)
        rows.append({
            "thing": service.node_of(thing),
            "amount": str(part.quantity) if isinstance(thing, Paper)
            else type_quantity(part.quantity, thing.measure, shop().unit),
            "width": part.width_nm, "height": part.height_nm, "grain": part.grain or "",
        })  # fmt: skip
    return {
        "version": recipe.version, "makes": recipe.makes, "days": recipe.days,
        "setup_minutes": recipe.setup_minutes, "minutes": recipe.minutes, "loss": recipe.loss,
        "parts": rows,
    }  # fmt: skip


@pages.route("/<key>/recipe", methods=["GET", "POST"])
def recipe(key: str) -> Any:
    """How a thing is made here: kept, changed, priced."""
    item = _item(key)
    known = service.recipe_of(db(), item)
    form: Any = _form(item, known)
    kept: list[Taken] = []

    def sound() -> bool:
        """The form's own rules, and each row's that was touched."""
        good = form.validate()
        things = _things(known)
        rows = [entry.form for entry in form.parts if not entry.form.untouched]
        read = [row.read(things) for row in rows]
        kept[:] = [taken for taken in read if taken is not None]
        if not rows:
            first = form.parts[0].form.thing
            first.errors = [*first.errors, say("Say what it is made of.")]
        whole = bool(rows) and len(kept) == len(read)
        if good and not whole:
            form.form_errors.append(say(MARKED))
        return bool(good and whole)

    def save() -> str:
        service.save_recipe(
            db(), item, kept, makes=form.makes.data, days=form.days.data, loss=form.loss.data,
            setup_minutes=form.setup_minutes.data or Decimal(0),
            minutes=form.minutes.data or Decimal(0),
            version=typed_version(form.version.data) or 0,
        )  # fmt: skip
        flash(say("Saved. It is planned and priced as made here wherever that costs least."))
        return url_for("stockroom.item", key=key)

    saves = "another" not in request.form and form.is_submitted()
    if saves and (done := submit(form, save, check=sound)):
        return done
    book = prices()
    cost, own = book.made_costs.get(key), book.own.get(key)
    page = render_template(
        "stockroom/recipe.html", form=form, item=item, key=key, recipe=known,
        room=len(form.parts) < service.MOST_PARTS,
        cost=cost, own=own, shown=_shown(cost, own) if cost and own else [],
    )  # fmt: skip
    return page, 422 if saves else 200


def _shown(cost: MadeCost, own: Offer) -> list[Decimal]:
    """What each part, the work and the losses come to, as they add up to the price."""
    price = own.breaks[0].pack_price
    lost = Fraction(price) - cost.total
    step = prices().currency.step
    return rounded_together([*cost.parts, cost.work, lost], step, half_up(price, step))


@pages.route("/<key>/recipe/remove", methods=["GET", "POST"])
def remove(key: str) -> Any:
    """Ask before a recipe is given up."""
    item = _item(key)
    known = service.recipe_of(db(), item)
    if known is None:
        return redirect(url_for("stockroom.item", key=key))
    form: Any = RemoveForm(data={"version": known.version})

    def give_up() -> str:
        service.remove_recipe(db(), known, typed_version(form.version.data) or 0)
        flash(say("It is bought from now on. What was made stays in the stock at its cost."))
        return url_for("stockroom.item", key=key)

    if done := submit(form, give_up):
        return done
    page = render_template(
        "stockroom/recipe_remove.html", form=form, item=item, key=key,
        users=service.made_with(db(), item),
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200


@pages.route("/<key>/make", methods=["GET", "POST"])
def make(key: str) -> Any:
    """Begin a batch of it, or see what is short for one."""
    item = _item(key)
    known = service.recipe_of(db(), item)
    if known is None:
        abort(404)
    asked = request.args.get("times", "")
    start = int(asked) if asked.isdecimal() and len(asked) < 6 else 1
    form = MakeForm(data={"times": start})
    shorts: tuple[Shortfall, ...] = ()

    def begin() -> str:
        batch = goods.begin_goods(db(), known, form.times.data, today())
        flash(
            say("Batch {number} is begun; what it takes has left the stock.", number=batch.number)
        )
        return url_for("batches.one", batch_id=batch.id)

    def refuse(error: DomainError) -> None:
        nonlocal shorts
        form.blame(error)
        if isinstance(error, ShortError):
            shorts = error.shorts

    done = submit(form, begin, refuse=refuse)
    if done:
        return done
    page = render_template(
        "stockroom/make.html", form=form, item=item, key=key, recipe=known, shorts=shorts,
        thing_of=service.thing_of, here=_here(known),
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200


def _here(known: Recipe) -> dict[int, int | str]:
    """What is in stock of each part, by its id; of a paper in words, sheets and lengths apart."""
    held = {key: holding.quantity for key, holding in holdings(db()).items()}
    found: dict[int, int | str] = {}
    for part in known.parts:
        if part.material is not None:
            found[part.id] = held.get(item_key(part.material), 0)
            continue
        of_kind: dict[SheetKind, tuple[StockSheet, int]] = {}
        for sheet in part.paper.sheets if part.paper else ():
            before = of_kind.get(sheet.kind, (sheet, 0))[1]
            of_kind[sheet.kind] = sheet, before + held.get(item_key(sheet), 0)
        said = [quantity(number, sheet) for sheet, number in of_kind.values() if number]
        found[part.id] = say_list(said) or say("none")
    return found
