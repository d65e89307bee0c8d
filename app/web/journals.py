"""The design bench: journals, their designs, drawings, yield, cost and price as one types."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from flask import Blueprint, abort, flash, jsonify, redirect, render_template, request, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.core.structures import structure, structures
from app.core.structures.base import Flat, Structure
from app.documents import drawings
from app.documents.charts import nudge_drawing
from app.models import Journal, Variant
from app.services.designs import journals as service
from app.services.designs.comparing import Nudge, nudges
from app.services.designs.estimating import Estimate, work_out
from app.services.designs.postage import Parcel, parcel
from app.services.designs.yield_stairs import Stairs, yield_stairs
from app.services.shop.settings import channels
from app.services.stock import materials as shelf
from app.web.design_form import DesignFields, design_form
from app.web.fields import Form, note_field, text_field, typed_version
from app.web.filters import bare_length, signed_money
from app.web.session import begin_deed, db, end_deed, need, prices, shop

pages = Blueprint("journals", __name__, url_prefix="/journals")
STRUCTURE = "wrap_cover"


class VariantForm(Form):
    """A further variant of a design."""

    variant_name = text_field("Name of the variant", needed=True)


class JournalForm(Form):
    """A journal's name and note."""

    version = HiddenField()
    name = text_field("Name", needed=True)
    note = note_field()


@dataclass(frozen=True)
class Worked:
    """An estimate with its drawings, for the right-hand side of the design page."""

    estimate: Estimate
    flats: list[tuple[Flat, str]]
    closed: str
    sheets: dict[str, str]
    stairs: list[tuple[Stairs, str]]
    nudges: list[Nudge]
    nudged: str
    parcel: Parcel


@pages.get("")
def listing() -> str:
    """All journals with what one costs and what is left of its price."""
    rows = []
    for journal in service.journals(db()):
        for variant in journal.current.variants:
            if not variant.retired:
                rows.append((journal, variant, service.estimate_or_none(prices(), variant)))
    return render_template("journals/listing.html", rows=rows, away=service.away(db()))


def _fields(
    made: Structure, variant: Variant | None = None, *, naming: bool = False, fresh: bool = False
) -> DesignFields:
    """The form of a design; a ``fresh`` one holds what is saved and nothing that was typed."""
    return design_form(
        made, shelf.papers(db()), shelf.materials(db()), channels(db()),
        variant=variant, batch=shop().batch_size, naming=naming, fresh=fresh,
    )  # fmt: skip


def _made() -> Structure:
    key = request.values.get("structure", STRUCTURE)
    try:
        return structure(key)
    except DomainError:
        abort(404)


def _work_out(fields: DesignFields) -> Worked | None:
    """Work out what the form says; a refusal is put beside its field."""
    draft = fields.draft()
    try:
        estimate = work_out(
            prices(), draft.structure, draft.dimensions, draft.choices,
            batch=fields.form.batch.data, asked=draft.prices,
            quantities=draft.quantities,
        )  # fmt: skip
    except DomainError as error:
        fields.form.blame(error)
        return None
    return _drawn(estimate, draft)


def _drawn(estimate: Estimate, draft: service.Draft) -> Worked:
    build = estimate.build
    more = nudges(prices(), draft, estimate)
    steps = yield_stairs(estimate, draft.dimensions)
    return Worked(
        estimate,
        [
            (f, drawings.flat_drawing(f, bare_length, f"flat-{f.key}", 330 if f.panels else 190))
            for f in build.flats
        ],
        drawings.closed_drawing(build, bare_length) if build.flats else "",
        {
            key: drawings.sheet_drawing(chosen.cut, bare_length, f"cut-{key}")
            for key, chosen in ((role.key, role.chosen) for role in estimate.papers)
            if chosen
        },
        [
            (row, drawings.stairs_drawing(
                row.steps, row.low_nm, row.now_nm, f"{row.label}, {estimate.shop.unit}",
                bare_length, f"stairs-{row.dimension}-{row.role.key}",
            ))
            for row in steps
        ],
        more,
        nudge_drawing(
            [(f"{n.label} +{n.more}", float(n.cost), signed_money(n.cost)) for n in more],
            "nudges",
        ),
        parcel(db(), build, estimate.weight_mg, estimate.shop),
    )  # fmt: skip


def _saves(form: Form) -> bool:
    """Whether a button that saves was pressed; Enter in a field only updates the figures."""
    pressed = any(name in request.form for name in ("keep", "as_next", "one_off"))
    if form.is_submitted() and not pressed:
        form.validate()
    return bool(form.is_submitted() and pressed)


def _start_worked(fields: DesignFields) -> Worked | None:
    """The first picture of a form nobody typed in yet."""
    if fields.form.is_submitted():
        return _work_out(fields) if not fields.form.errors else None
    return _work_out(fields)


@pages.post("/worked-out")
def worked_out() -> Any:
    """What is typed now, worked out, and the messages for its fields; nothing is kept."""
    fields = _fields(_made())
    good = fields.form.validate() and fields.check_parts()
    worked = _work_out(fields) if good else None
    html = render_template("journals/worked.html", worked=worked, messages={}) if worked else None
    return jsonify(html=html, errors=fields.errors())


@pages.route("/new", methods=["GET", "POST"])
def new() -> Any:
    """Draw a new journal, priced while it is drawn."""
    fields = _fields(_made(), naming=True)
    form = fields.form
    if _saves(form):
        begin_deed(form)
        if form.validate() and fields.check_parts() and _work_out(fields):
            try:
                journal = service.begin_journal(
                    db(), form.name.data, fields.draft(), form.variant_name.data
                )
            except DomainError as error:
                form.blame(error)
            else:
                flash(f"{journal.name} is saved as design 1.")
                return end_deed(form, url_for("journals.one", journal_id=journal.id))
    page = render_template(
        "journals/design.html", fields=fields, form=form, worked=_start_worked(fields),
        journal=None, variant=None, design=None, structures=structures().values(),
    )  # fmt: skip
    return page, 422 if form.is_submitted() and (_saves(form) or form.errors) else 200


@pages.route("/<int:journal_id>", methods=["GET", "POST"])
@pages.route("/<int:journal_id>/variants/<int:variant_id>", methods=["GET", "POST"])
def one(journal_id: int, variant_id: int | None = None) -> Any:
    """A journal's design: look, change, keep."""
    journal = need(Journal, journal_id)
    variant = journal.current.variants[0] if variant_id is None else need(Variant, variant_id)
    if variant.design.journal is not journal:
        abort(404)
    made = structure(variant.design.structure)
    fields = _fields(made, variant)
    form = fields.form
    if _saves(form):
        begin_deed(form)
        if form.validate() and fields.check_parts() and _work_out(fields):
            try:
                kept = _keep(variant, fields)
            except DomainError as error:
                form.refuse(error, _fields(made, variant, fresh=True).form)
            else:
                if kept.design.one_off:
                    flash(f"{kept.name} is saved as a design of its own; now log the order for it.")
                    return end_deed(form, url_for("orders.new", variant=kept.id))
                same = kept is variant and variant.design.frozen_at is not None
                flash(
                    "Prices and shelf level saved; the design is locked by an order."
                    if same
                    else f"Saved as design {kept.design.number}."
                )
                return end_deed(
                    form, url_for("journals.one", journal_id=journal.id, variant_id=kept.id)
                )
    page = render_template(
        "journals/design.html", fields=fields, form=form, worked=_start_worked(fields),
        journal=journal, variant=variant, design=variant.design,
        variant_form=VariantForm(formdata=None),
    )  # fmt: skip
    return page, 422 if form.is_submitted() and (_saves(form) or form.errors) else 200


def _keep(variant: Variant, fields: DesignFields) -> Variant:
    version = typed_version(fields.form.version.data)
    if "one_off" in request.form:
        name = f"One-off {variant.design.journal.designs[-1].number + 1}"
        draft = fields.draft()
        if fields.batch_untouched:
            # A one-off is one, unless the maker said otherwise.
            draft = replace(draft, batch_size=1)
        return service.one_off(db(), variant, draft, name)
    if "as_next" in request.form:
        return service.keep_as_next(db(), variant, fields.draft())
    return service.keep_design(db(), variant, fields.draft(), version)


@pages.post("/<int:journal_id>/variants/<int:variant_id>/more")
def add_variant(journal_id: int, variant_id: int) -> Any:
    """Add a variant like this one."""
    journal, variant = need(Journal, journal_id), need(Variant, variant_id)
    if variant.design.journal is not journal:
        abort(404)
    form = VariantForm()
    begin_deed(form)
    if form.validate():
        try:
            added = service.add_variant(db(), variant.design, form.variant_name.data, variant)
        except DomainError as error:
            flash(error.message)
        else:
            flash(f"{added.name}: now choose its colours and findings.")
            return end_deed(
                form, url_for("journals.one", journal_id=journal.id, variant_id=added.id)
            )
    else:
        flash("A variant needs a name, of at most 120 characters.")
    return redirect(url_for("journals.one", journal_id=journal.id, variant_id=variant.id))


@pages.route("/<int:journal_id>/name", methods=["GET", "POST"])
def rename(journal_id: int) -> Any:
    """Change a journal's name or note, or put it away."""
    journal = need(Journal, journal_id)
    form = JournalForm(obj=journal)
    if form.is_submitted():
        begin_deed(form)
    if form.validate_on_submit():
        try:
            service.rename_journal(
                db(), journal, form.name.data, form.note.data, typed_version(form.version.data)
            )
        except DomainError as error:
            form.refuse(error, JournalForm(formdata=None, obj=journal))
        else:
            flash("Saved.")
            return end_deed(form, url_for("journals.one", journal_id=journal.id))
    page = render_template("journals/name.html", form=form, journal=journal)
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:journal_id>/away")
def put_away(journal_id: int) -> Any:
    """Take a journal off the lists, or put it back."""
    form = Form()
    begin_deed(form)
    journal = need(Journal, journal_id)
    service.put_away(db(), journal, away="back" not in request.form)
    flash("Put away; its orders stay." if journal.retired else "Brought back.")
    return end_deed(form, url_for("journals.rename", journal_id=journal.id))
