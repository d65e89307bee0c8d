"""Purchases: drafted, sent, received in part or whole, printed for the supplier."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.core.states import PurchaseState
from app.language import say, to_say
from app.models import Material, Purchase, Receipt, StockSheet, Supplier
from app.services.planning.supply import MOST_LISTED, came, item_of, purchases
from app.services.purchasing import purchases as service
from app.services.purchasing.buy_list import buy_list
from app.services.purchasing.changes import changes_since
from app.services.purchasing.reordering import reorder_proposals
from app.services.stock import ledger as stock
from app.web.frame.asked import apart_asked, markets_asked, number_asked
from app.web.frame.fields import (
    DayField,
    Form,
    MoneyField,
    Needed,
    PastDayField,
    WholeField,
    choice_field,
    note_field,
    offered,
    typed_version,
)
from app.web.frame.filters import day, item_name
from app.web.frame.session import db, need, today
from app.web.frame.submission import press, submit

MOST_SAID = 6
"""Changes told in words; more of them are a new list."""
pages = Blueprint("purchases", __name__, url_prefix="/buying/purchases")


class LineForm(Form):
    """One more thing on a draft."""

    item = choice_field(to_say("What"), [])
    packs = WholeField(
        to_say("Packs"), [Needed()], least=1, most=service.MOST_PACKS, words=("pack",)
    )


class DayForm(Form):
    """The day something is expected."""

    expected_on = DayField(to_say("Expected on"), [Needed()])


class CancelForm(Form):
    """A purchase as it was when its cancellation was asked about."""

    version = HiddenField()


def _draft_form(purchase: Purchase, **more: Any) -> Any:
    """Packs and price of every line of a draft."""

    class Draft(Form):
        version = HiddenField()
        note = note_field()

    start: dict[str, Any] = {"version": purchase.version, "note": purchase.note}
    for line in purchase.lines:
        packs = WholeField(
            say("Packs"), [Needed()], least=0, most=service.MOST_PACKS, words=("pack",)
        )
        setattr(Draft, f"packs_{line.id}", packs)
        setattr(Draft, f"price_{line.id}", MoneyField(say("A pack costs"), [Needed()]))
        start |= {f"packs_{line.id}": line.packs, f"price_{line.id}": line.pack_price}
    return Draft(data=start, **more)


def _receive_form(purchase: Purchase, missing: dict[int, int], **more: Any) -> Any:
    """How many packs of each line came, and the carriage."""

    class Receive(Form):
        version = HiddenField()
        on = PastDayField(to_say("Came on"), [Needed()])
        carriage = MoneyField(
            to_say("Carriage paid"),
            [Needed()],
            description=to_say("Shared over what came by its value."),
        )

    start: dict[str, Any] = {"version": purchase.version, "on": today(), "carriage": Decimal(0)}
    for line in purchase.lines:
        if missing[line.id]:
            field = WholeField(
                say("Packs that came"), least=0, most=service.MOST_PACKS, words=("pack",)
            )
            setattr(Receive, f"came_{line.id}", field)
            start[f"came_{line.id}"] = missing[line.id]
    return Receive(data=start, **more)


@pages.get("")
def listing() -> str:
    """Purchases, the newest first, a page at a time."""
    rows = purchases(db(), before=number_asked(request.args, "before"), most=MOST_LISTED + 1)
    older = rows[MOST_LISTED - 1].number if len(rows) > MOST_LISTED else None
    rows = rows[:MOST_LISTED]
    here = came(db(), [line for row in rows for line in row.lines])
    return render_template("buying/purchases.html", rows=rows, total=_total, older=older,
        come=lambda purchase: sum(here[line.id] for line in purchase.lines),
    )  # fmt: skip


def _missing(purchase: Purchase, here: dict[int, int]) -> dict[int, int]:
    """Packs of each line that are still to come."""
    return {line.id: max(line.packs - here[line.id], 0) for line in purchase.lines}


def _total(purchase: Purchase) -> Decimal:
    return sum((line.packs * line.pack_price for line in purchase.lines), Decimal(0))


@pages.post("/draft")
def draft() -> Any:
    """Drafts for all that the buy list says, one a supplier."""
    markets, apart = markets_asked(request.form), apart_asked(request.form)
    asked = [("chosen", "1")] if markets is not None else []
    asked += [("market", str(number)) for number in sorted(markets or ())]
    asked += [("apart", "1")] if apart else []
    again = f"{url_for('buying.page')}?{urlencode(asked)}"

    def make() -> str:
        found = buy_list(db(), today(), markets, apart=apart)
        if changed := changes_since(request.form.get("shown", ""), found):
            flash(" ".join([say("The list is not as it was shown."), *changed[:MOST_SAID]]))
            raise DomainError(say("Nothing is drafted yet: look it over and draft it again."))
        made = service.draft_buy_list(db(), found)
        if not made:
            raise DomainError(say("There is nothing to buy."))
        names = ", ".join(purchase.supplier.name for purchase in made)
        flash(
            say(
                "Drafted for {suppliers}. Look them over, order, and say that they are sent.",
                suppliers=names,
            )
        )
        return url_for("purchases.listing")

    return press(make, lambda: redirect(again))


@pages.post("/reorder")
def draft_reorder() -> Any:
    """Drafts for what should be ordered again."""

    def make() -> str:
        found, _ = reorder_proposals(db(), today())
        made = service.draft_purchases(db(), (proposal for proposal in found if proposal.due))
        flash(say("Drafted.") if made else say("Nothing has to be ordered again yet."))
        return url_for("purchases.listing")

    return press(make, lambda: redirect(url_for("purchases.reorder")))


@pages.post("/begin/<int:supplier_id>")
def begin(supplier_id: int) -> Any:
    """An empty draft to a supplier."""
    supplier = need(Supplier, supplier_id)

    def make() -> str:
        purchase = service.begin_purchase(db(), supplier)
        return url_for("purchases.one", purchase_id=purchase.id)

    return press(make, lambda: redirect(url_for("stockroom.page")))


def _page(purchase: Purchase, status: int = 200, **forms: Any) -> Any:
    here = came(db(), purchase.lines)
    missing = _missing(purchase, here)
    adding = forms.get("adding") or LineForm(formdata=None)
    if purchase.state != PurchaseState.DRAFT and forms.get(PurchaseState.DRAFT) is not None:
        flash(say("This purchase is no draft any more; it stands as it was sent."))
    adding.item.choices = offered(_things(purchase))
    return render_template(
        "buying/purchase.html", purchase=purchase, here=here, missing=missing, item_of=item_of,
        total=_total(purchase), adding=adding,
        draft=forms.get("draft") or _draft_form(purchase),
        receive=forms.get("receive") or _receive_form(purchase, missing),
        day=forms.get("day") or _day_form(purchase),
        undone=_undone(purchase), came_of_it=bool(service.standing_receipts(purchase)),
    ), status  # fmt: skip


def _day_form(purchase: Purchase) -> DayForm:
    return DayForm(formdata=None, data={"expected_on": purchase.expected_on or today()})


def _undone(purchase: Purchase) -> set[int]:
    """Receipts that were taken back: what came with them was reversed."""
    standing = {receipt.id for receipt in service.standing_receipts(purchase)}
    return {receipt.id for receipt in purchase.receipts} - standing


def _things(purchase: Purchase) -> list[tuple[str, str]]:
    """What its supplier offers, by item key."""
    found = {}
    for offer in purchase.supplier.offers:
        item = offer.stock_sheet or offer.material
        if item is not None:
            found[stock.item_key(item)] = item_name(item)
    return sorted(found.items(), key=lambda pair: pair[1])


@pages.get("/<int:purchase_id>")
def one(purchase_id: int) -> Any:
    """One purchase, and what can be done with it now."""
    return _page(need(Purchase, purchase_id))


@pages.post("/<int:purchase_id>/change")
def change(purchase_id: int) -> Any:
    """Keep a draft as it was typed; then put more on it, or say that it is ordered."""
    purchase = need(Purchase, purchase_id)
    form, adding = _draft_form(purchase), LineForm()
    adding.item.choices = offered(_things(purchase))
    adds = "add" in request.form

    def save() -> str:
        flash(_keep_draft(purchase, form, adding if adds else None))
        return url_for("purchases.one", purchase_id=purchase.id)

    def refuse(error: DomainError) -> None:
        if adds and error.field in ("item", "packs"):
            adding.blame(error)
        else:
            form.refuse(error, _draft_form(purchase, formdata=None))

    done = submit(
        form, save, check=lambda: form.validate() and (not adds or adding.validate()),
        refuse=refuse,
    )  # fmt: skip
    return done or _page(purchase, 422, draft=form, adding=adding if adds else None)


def _keep_draft(purchase: Purchase, form: Any, adding: LineForm | None) -> str:
    packs = {x.id: form[f"packs_{x.id}"].data for x in purchase.lines if f"packs_{x.id}" in form}
    prices = {x.id: form[f"price_{x.id}"].data for x in purchase.lines if f"price_{x.id}" in form}
    version = typed_version(form.version.data)
    service.change_draft(db(), purchase, packs, prices, form.note.data, version)
    if adding is not None:
        item = stock.find_item(db(), adding.item.data)
        if not isinstance(item, StockSheet | Material):
            raise DomainError(say("Choose what to put on it."), "item")
        service.add_line(db(), purchase, item, adding.packs.data, today())
        return say("It is on the draft.")
    if "send" in request.form:
        service.send_purchase(db(), purchase, today())
        expected = day(purchase.expected_on or today())
        return say("On its way; expected by {day}.", day=expected)
    return say("Saved.")


@pages.route("/<int:purchase_id>/cancel", methods=["GET", "POST"])
def cancel(purchase_id: int) -> Any:
    """Ask before a purchase is cancelled."""
    purchase = need(Purchase, purchase_id)
    form = CancelForm(data={"version": purchase.version})

    def call_off() -> str:
        service.cancel_purchase(db(), purchase, typed_version(form.version.data))
        flash(say("Cancelled; what came stays."))
        return url_for("purchases.one", purchase_id=purchase.id)

    def now() -> CancelForm:
        return CancelForm(formdata=None, data={"version": purchase.version})

    if done := submit(form, call_off, now=now):
        return done
    page = render_template(
        "buying/purchase_cancel.html",
        purchase=purchase,
        form=form,
        item_of=item_of,
        came=bool(service.standing_receipts(purchase)),
    )
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:purchase_id>/expect")
def expect(purchase_id: int) -> Any:
    """Expected on another day."""
    purchase = need(Purchase, purchase_id)
    form = DayForm()

    def save() -> str:
        service.expect_on(db(), purchase, form.expected_on.data)
        flash(say("Saved."))
        return url_for("purchases.one", purchase_id=purchase.id)

    return submit(form, save) or _page(purchase, 422, day=form)


@pages.post("/<int:purchase_id>/again")
def again(purchase_id: int) -> Any:
    """A draft again after it was cancelled."""
    purchase = need(Purchase, purchase_id)
    here = url_for("purchases.one", purchase_id=purchase_id)

    def redraft() -> str:
        service.draft_again(db(), purchase)
        flash(say("It is a draft again. Look it over and send it."))
        return here

    return press(redraft, lambda: redirect(here))


@pages.post("/<int:purchase_id>/receive")
def receive(purchase_id: int) -> Any:
    """Take in what came of it."""
    purchase = need(Purchase, purchase_id)
    form = _receive_form(purchase, _missing(purchase, came(db(), purchase.lines)))

    def take_in() -> str:
        packs = {
            line.id: form[f"came_{line.id}"].data or 0
            for line in purchase.lines
            if f"came_{line.id}" in form
        }
        service.receive_purchase(
            db(), purchase, packs, form.carriage.data, form.on.data,
            typed_version(form.version.data),
        )  # fmt: skip
        flash(
            say(
                "It is on the shelf; purchase {number} is {state}.",
                number=purchase.number, state=say(purchase.state),
            )
        )  # fmt: skip
        return url_for("purchases.one", purchase_id=purchase.id)

    def now() -> Any:
        missing = _missing(purchase, came(db(), purchase.lines))
        return _receive_form(purchase, missing, formdata=None)

    return submit(form, take_in, now=now) or _page(purchase, 422, receive=form)


@pages.post("/<int:purchase_id>/receipts/<int:receipt_id>/undo")
def undo(purchase_id: int, receipt_id: int) -> Any:
    """Take back a receipt written down wrongly."""
    purchase, receipt = need(Purchase, purchase_id), need(Receipt, receipt_id)
    if receipt.purchase is not purchase:
        abort(404)
    here = url_for("purchases.one", purchase_id=purchase_id)

    def take_back() -> str:
        service.undo_receipt(db(), receipt, say("receipt undone by hand"))
        flash(say("Taken back; both entries stay in the history."))
        return here

    return press(take_back, lambda: redirect(here))


@pages.get("/reorder")
def reorder() -> str:
    """What to keep and when to order it again, from how it was used."""
    found, unknown = reorder_proposals(db(), today())
    return render_template("buying/reorder.html", found=found, unknown=unknown)
