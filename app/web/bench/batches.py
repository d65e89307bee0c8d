"""Batches on screen: begun with their materials, finished with what came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for

from app.core.errors import DomainError
from app.core.money import currency, rounded_together
from app.core.states import ORDER_NEEDS_MAKING, BatchState, MovementKind
from app.language import say
from app.models import Batch, Movement, Order, Variant
from app.services.bench import batches as service
from app.services.bench import finishing, goods
from app.services.bench import operations as clocks
from app.services.bench.batch_supply import ShortError, Shortfall, enough_for
from app.services.bench.materials import materials_cost
from app.services.designs.journals import sellable
from app.services.orders.shelf import lacking, to_make_for
from app.services.planning.requirements import needs
from app.services.stock.ledger import item_key, thing_of
from app.web.bench.cuts import cuts_of
from app.web.bench.finish_forms import as_shown, finish_form, part_form
from app.web.frame.asked import number_asked
from app.web.frame.fields import Form, WholeField
from app.web.frame.filters import quantity
from app.web.frame.session import db, find, need, shop, today
from app.web.frame.submission import press, submit

pages = Blueprint("batches", __name__, url_prefix="/stockroom/batches")


def _new_form(variants: list[Variant], wanted: dict[str, int], **more: Any) -> Any:
    """How many of each journal, offered as many as are still to make."""

    class New(Form):
        pass

    start = {}
    for variant in variants:
        field = WholeField(variant.full_name, least=0, most=service.MOST_IN_BATCH)
        setattr(New, f"make_{variant.id}", field)
        start[f"make_{variant.id}"] = wanted.get(item_key(variant)) or None
    return New(data=start, **more)


@pages.get("")
def listing() -> str:
    """Batches, the newest first, a page at a time."""
    most = service.MOST_LISTED
    rows = service.batches(db(), before=number_asked(request.args, "before"), most=most + 1)
    older = rows[most - 1].number if len(rows) > most else None
    rows = rows[:most]
    return render_template(
        "bench/batches.html", rows=rows, begun=service.begun_on(db(), rows), older=older
    )


@pages.route("/new", methods=["GET", "POST"])
def new() -> Any:
    """Begin a batch, or see what of it there is material for."""
    orders = _orders_asked()
    order = orders[0] if len(orders) == 1 and "orders" not in request.args else None
    variants, made_for = sellable(db()), to_make_for(db(), orders)
    if order is None:
        found = needs(db(), today())
        wanting = {key: row.short for key, row in found.to_make.items()}
        wanted = [v for key, v in found.variants.items() if wanting.get(key)]
    else:
        wanting = {item_key(one.variant): one.to_make for one in lacking(db(), order)}
        wanted = [line.variant for line in made_for]
    variants += [v for v in dict.fromkeys(wanted) if v not in variants]
    form = _new_form(variants, _asked_numbers(variants) or wanting)
    shorts: tuple[Shortfall, ...] = ()

    def begin() -> str:
        batch = service.begin_batch(db(), _wanted(form, variants), today(), made_for)
        flash(
            say("Batch {number} is begun; its materials have left the stock.", number=batch.number)
        )
        return url_for("batches.one", batch_id=batch.id)

    def refuse(error: DomainError) -> None:
        nonlocal shorts
        form.blame(error)
        if isinstance(error, ShortError):
            shorts = error.shorts

    if "enough" in request.form and form.validate():
        return _enough(variants, _wanted(form, variants))
    done = submit(form, begin, refuse=refuse)
    return done or _new_page(form, variants, shorts, 422 if form.is_submitted() else 200, order)


def _orders_asked() -> list[Order]:
    """The orders that the address says a batch is for."""
    words = [request.args.get("order", ""), *request.args.get("orders", "").split(",")]
    numbers = [int(word) for word in words if word.isdecimal() and len(word) < 10]
    found = (find(Order, number) for number in dict.fromkeys(numbers))
    return [order for order in found if order is not None and order.state in ORDER_NEEDS_MAKING]


def _asked_numbers(variants: list[Variant]) -> dict[str, int]:
    """How many of each the address proposes, as the bench page fills it in."""
    found = {item_key(v): number_asked(request.args, f"make_{v.id}") for v in variants}
    return {key: number for key, number in found.items() if number}


def _wanted(form: Any, variants: list[Variant]) -> dict[Variant, int]:
    """How many of each were sent; what was only offered does not count."""
    return {v: form[name].data or 0 for v in variants if (name := f"make_{v.id}") in request.form}


def _new_page(
    form: Any, variants: list[Variant], shorts: tuple[Shortfall, ...], status: int = 200,
    order: Order | None = None,
) -> Any:  # fmt: skip
    makes = [form[f"make_{v.id}"] for v in variants]
    page = render_template(
        "bench/batch_new.html", form=form, makes=makes, shorts=shorts, order=order
    )
    return page, status


def _enough(variants: list[Variant], wanted: dict[Variant, int]) -> Any:
    """The form again with as many as there is material for; nothing is begun."""
    chosen = enough_for(db(), {v: n for v, n in wanted.items() if n}, today())
    numbers = {item_key(variant): number for variant, number in chosen.items()}
    form = _new_form(variants, numbers, formdata=None)
    none = [v.full_name for v, n in wanted.items() if n and item_key(v) not in numbers]
    if numbers:
        flash(say("There is material for the numbers below. Begin them, or change them."))
        if none:
            flash(say("There is none left for {journals}.", journals=", ".join(none)))
    else:
        flash(say("There is not material enough for a single one of these."))
    return _new_page(form, variants, ())


@dataclass(frozen=True)
class Account:
    """What a batch cost as it is shown: every column adds up to its total."""

    shown: dict[int, Decimal]
    """Each movement's cost, by its id."""
    materials: Decimal
    work: Decimal
    spoiled: Decimal
    still_in: Decimal
    """Materials of what still goes on, where a part of it is finished."""

    @property
    def total(self) -> Decimal:
        """Materials and work; what the good ones and the spoiled ones took."""
        return self.materials + self.work


def _account(batch: Batch, rows: list[Movement]) -> Account:
    step = currency(shop().currency).step
    went_in = [m for m in rows if m.kind != MovementKind.MADE]
    made = [m for m in rows if m.kind == MovementKind.MADE]
    work, spoiled = batch.work_cost or Decimal(0), batch.spoiled_cost or Decimal(0)
    materials = -sum((m.cost for m in went_in), Decimal(0))
    shown_materials, shown_work = rounded_together([materials, work], step)
    total = shown_materials + shown_work if made or spoiled else None
    costs = rounded_together([-m.cost for m in went_in], step, shown_materials)
    rest = materials + work - sum((m.cost for m in made), spoiled)
    out = rounded_together([*(m.cost for m in made), spoiled, rest], step, total)
    shown = dict(zip((m.id for m in [*went_in, *made]), [*costs, *out[:-2]], strict=True))
    return Account(shown, shown_materials, shown_work, out[-2], out[-1])


def _minutes_left(batch: Batch, work: Sequence[clocks.OperationNow]) -> Decimal:
    """Minutes to offer for what is left: as logged, as planned where nothing was.

    What was told for a part is not asked for again.
    """
    if batch.goods:
        return sum((line.minutes for line in batch.goods), Decimal(0))
    if not work:
        return finishing.standard_minutes(db(), batch, today())
    whole = sum((one.logged or one.row.planned for one in work), Decimal(0))
    if not batch.minutes:
        return whole
    left = max(whole - batch.minutes, Decimal(0))
    return min(left, finishing.standard_minutes(db(), batch, today()))


def batch_page(batch: Batch, form: Any = None, status: int = 200) -> Any:
    rows = service.movements_of(db(), batch)
    begun = batch.state == BatchState.IN_PROGRESS
    minutes, work = None, clocks.operations_of(db(), batch)
    logged = sum((one.logged for one in work), Decimal(0))
    if begun:
        minutes = _minutes_left(batch, work)
    return render_template(
        "bench/batch.html", batch=batch, thing_of=thing_of,
        issued=[m for m in rows if m.kind != MovementKind.MADE],
        made=[m for m in rows if m.kind == MovementKind.MADE], account=_account(batch, rows),
        cuts=cuts_of(batch), aside=finishing.set_aside_of(db(), batch), work=work, logged=logged,
        planned=sum((one.row.planned for one in work), Decimal(0)), at=datetime.now(UTC),
        form=(form or finish_form(batch, minutes)) if minutes is not None else None,
    ), status  # fmt: skip


@pages.get("/<int:batch_id>")
def one(batch_id: int) -> Any:
    """One batch: what went into it, what came out, and what it cost."""
    return batch_page(need(Batch, batch_id))


@pages.post("/<int:batch_id>/finish")
def finish(batch_id: int) -> Any:
    """It is made: so many good ones, in so many minutes."""
    batch = need(Batch, batch_id)
    form = finish_form(batch, Decimal(0))

    def make() -> str:
        if batch.goods:
            [made] = batch.goods
            good = {made.id: form[f"good_{made.id}"].data}
            lost = form.all_lost.data
            goods.finish_goods(db(), batch, good, form.minutes.data, today(), all_lost=lost)
            much = quantity(made.good, made.item)
            flash(say("{much} of {thing} is in the stock.", much=much, thing=made.name))
            return url_for("batches.one", batch_id=batch.id)
        left = [line for line in batch.lines if line.left]
        as_shown(batch, form)
        good = {line.id: form[f"good_{line.id}"].data for line in left}
        why = {line.id: form[f"why_{line.id}"].data.strip() for line in left}
        for line in left:
            if good[line.id] < line.left and not why[line.id]:
                raise DomainError(say("Say why they were spoiled."), f"why_{line.id}")
        cost = finishing.finish_batch(db(), batch, good, form.minutes.data, today(), why)
        _say_where(batch)
        if cost.spoiled:
            flash(say("What the spoiled ones cost stands apart on this page."))
        return url_for("batches.one", batch_id=batch.id)

    def refuse(error: DomainError) -> None:
        form.blame(error)
        if batch.state != BatchState.IN_PROGRESS:
            # Then the page has no form any more at which it could stand.
            flash(error.message)

    return submit(form, make, refuse=refuse) or batch_page(batch, form, 422)


@pages.route("/<int:batch_id>/part", methods=["GET", "POST"])
def part(batch_id: int) -> Any:
    """Some of it are finished already; the rest goes on."""
    batch = need(Batch, batch_id)
    form = part_form(batch)
    if (batch.goods or batch.state != BatchState.IN_PROGRESS) and not form.is_submitted():
        return redirect(url_for("batches.one", batch_id=batch.id))

    def some() -> str:
        as_shown(batch, form)
        came = {}
        for line in batch.lines:
            good, spoiled = (
                form[name].data or 0 if (name := f"{word}_{line.id}") in form else 0
                for word in ("good", "spoiled")
            )
            why = form[f"why_{line.id}"].data.strip() if f"why_{line.id}" in form else ""
            if spoiled and not why:
                raise DomainError(say("Say why they were spoiled."), f"why_{line.id}")
            came[line.id] = finishing.Came(good, spoiled, why)
        before = finishing.set_aside_of(db(), batch)
        finishing.finish_part(db(), batch, came, form.minutes.data, today())
        good = sum(one.good for one in came.values())
        aside = sum(finishing.set_aside_of(db(), batch).values()) - sum(before.values())
        if aside:
            flash(say("{number} set aside for their orders.", number=aside))
        flash(say("{number} on the shelf; the rest goes on.", number=good - aside))
        return url_for("batches.one", batch_id=batch.id)

    if done := submit(form, some):
        return done
    page = render_template("bench/batch_part.html", batch=batch, form=form)
    return page, 422 if form.is_submitted() else 200


def _say_where(batch: Batch) -> None:
    """How many went on the shelf, and how many were set aside for which order."""
    aside = finishing.set_aside_of(db(), batch)
    for order, number in aside.items():
        flash(say("{number} set aside for order {order}.", number=number, order=order))
    shelf = sum(line.good for line in batch.lines) - sum(aside.values())
    if shelf or not aside:
        flash(say("{number} on the shelf.", number=shelf))


@pages.route("/<int:batch_id>/cancel", methods=["GET", "POST"])
def cancel(batch_id: int) -> Any:
    """Ask before a batch is cancelled."""
    batch = need(Batch, batch_id)
    form = Form()
    if batch.state != BatchState.IN_PROGRESS and not form.is_submitted():
        flash(_nothing_to_cancel(batch))
        return redirect(url_for("batches.one", batch_id=batch.id))

    if any(line.good or line.spoiled for line in batch.lines) and not form.is_submitted():
        flash(say("Some of it came out already: finish it with what there is."))
        return redirect(url_for("batches.one", batch_id=batch.id))

    def call_off() -> str:
        service.cancel_batch(db(), batch)
        flash(say("Its materials are back in the stock. It can be resumed below."))
        return url_for("batches.one", batch_id=batch.id)

    if done := submit(form, call_off):
        return done
    page = render_template(
        "bench/batch_cancel.html", batch=batch, form=form,
        materials=materials_cost(db(), batch),
    )  # fmt: skip
    return page, 422 if form.is_submitted() else 200


def _nothing_to_cancel(batch: Batch) -> str:
    if batch.state == BatchState.CANCELLED:
        return say("Batch {number} is cancelled: there is nothing to cancel.", number=batch.number)
    return say("Batch {number} is made: there is nothing to cancel.", number=batch.number)


@pages.post("/<int:batch_id>/resume")
def resume(batch_id: int) -> Any:
    """Undo the cancellation: it takes its materials again."""
    batch = need(Batch, batch_id)
    here = url_for("batches.one", batch_id=batch_id)

    def go_on() -> str:
        again = goods.resume_goods if batch.goods else service.resume_batch
        again(db(), batch, today())
        flash(say("Batch {number} is in progress again.", number=batch.number))
        return here

    return press(go_on, lambda: redirect(here))
