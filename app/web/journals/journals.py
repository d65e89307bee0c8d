"""The design bench: journals, their designs, drawings, yield, cost and price as one types."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from flask import Blueprint, abort, flash, jsonify, redirect, render_template, request, url_for
from wtforms import HiddenField

from app.core.errors import DomainError
from app.core.structures import structure_for, structures
from app.core.structures.base import Flat, Structure
from app.documents import drawings
from app.documents.charts import nudge_drawing
from app.language import say, to_say
from app.models import Journal, Variant
from app.services.designs import journals as service
from app.services.designs.comparing import MOST_COMPARED, Nudge, nudges
from app.services.designs.estimating import Estimate, work_out
from app.services.designs.pictures import first_pictures, pictures_of
from app.services.designs.postage import Parcel, parcel
from app.services.designs.yield_stairs import Stairs, yield_stairs
from app.services.shop.settings import channels
from app.services.stock import materials as shelf
from app.web.frame.fields import Form, note_field, text_field, typed_version
from app.web.frame.filters import bare_length, signed_money
from app.web.frame.session import db, need, prices, shop
from app.web.frame.submission import press, submit
from app.web.journals.design_fields import DesignFields
from app.web.journals.design_form import DesignForm
from app.web.journals.form_making import asked_structure, design_form

pages = Blueprint("journals", __name__, url_prefix="/journals")
STRUCTURE = "wrap_cover"


class VariantForm(Form):
    """A further variant of a design."""

    variant_name = text_field(to_say("Name of the variant"), needed=True)


class JournalForm(Form):
    """A journal's name and note."""

    version = HiddenField()
    name = text_field(to_say("Name"), needed=True)
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
    """All journals, drawn small, with what one costs and what is left of its price."""
    rows = []
    for journal in service.journals(db()):
        for variant in journal.current.variants:
            if not variant.retired:
                rows.append((journal, variant, service.estimate_or_none(prices(), variant)))
    builds = {variant.id: worked.build for _, variant, worked in rows if worked}
    return render_template(
        "journals/listing.html", rows=rows, away=service.away(db()), most=MOST_COMPARED,
        drawn=drawings.drawn_small(builds),
        pictures=first_pictures(db(), [variant for _, variant, _ in rows]),
    )  # fmt: skip


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
        return asked_structure(key)
    except DomainError:
        abort(404)


def _work_out(fields: DesignFields) -> Worked | None:
    """Work out what the form says; a refusal is put beside its field."""
    draft = fields.draft()
    try:
        estimate = work_out(
            prices(), draft.structure, draft.dimensions, draft.choices,
            batch=fields.form.batch.data, asked=draft.prices,
            quantities=draft.quantities, parts=draft.parts,
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
            key: drawings.sheet_drawing(chosen.cut, bare_length, f"cut-{key}", chosen.said)
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


def _saves(form: DesignForm) -> bool:
    """Whether a button that saves was pressed; Enter in a field only updates the figures."""
    pressed = any(name in request.form for name in ("keep", "as_next", "one_off"))
    if form.is_submitted() and not pressed:
        form.validate()
        # Nobody needs to name what is only looked at.
        form.name.errors = form.variant_name.errors = ()
    return bool(form.is_submitted() and pressed)


def _start_worked(fields: DesignFields) -> Worked | None:
    """The first picture of a form nobody typed in yet."""
    if fields.form.is_submitted():
        fields.check_amounts()
        return _work_out(fields) if not fields.form.errors else None
    return _work_out(fields)


@pages.post("/worked-out")
def worked_out() -> Any:
    """What is typed now, worked out, and the messages for its fields; nothing is kept."""
    fields = _fields(_made())
    good = fields.form.validate() and fields.check_amounts()
    worked = _work_out(fields) if good else None
    html, answer, care = (
        render_template(f"journals/{part}.html", worked=worked, fields=fields) if worked else None
        for part in ("worked", "answer", "care")
    )
    holds = {group.heading: group.said for group in fields.groups}
    return jsonify(html=html, answer=answer, care=care, holds=holds, errors=fields.errors())


@pages.route("/new", methods=["GET", "POST"])
def new() -> Any:
    """Draw a new journal, priced while it is drawn."""
    fields = _fields(_made(), naming=True)
    form = fields.form

    def begin() -> str:
        name = form.name.data
        journal = service.begin_journal(db(), name, fields.draft(), form.variant_name.data)
        flash(say("{journal} is saved as design 1.", journal=journal.name))
        return url_for("journals.one", journal_id=journal.id)

    saves = _saves(form)
    if saves and (done := submit(form, begin, check=lambda: _sound(fields))):
        return done
    page = render_template(
        "journals/design.html", fields=fields, form=form, worked=_start_worked(fields),
        journal=None, variant=None, design=None, structures=structures().values(),
        chosen="structure" in request.args or saves,
    )  # fmt: skip
    return page, 422 if saves else 200


@pages.route("/<int:journal_id>", methods=["GET", "POST"])
@pages.route("/<int:journal_id>/variants/<int:variant_id>", methods=["GET", "POST"])
def one(journal_id: int, variant_id: int | None = None) -> Any:
    """A journal's design: look, change, keep."""
    journal = need(Journal, journal_id)
    variant = journal.current.variants[0] if variant_id is None else need(Variant, variant_id)
    if variant.design.journal is not journal:
        abort(404)
    design = variant.design
    fields = _fields(asked_structure(design.structure, design.dimensions), variant)
    form = fields.form

    def keep() -> str:
        kept = _keep(variant, fields)
        if kept.design.one_off:
            flash(say(
                "{name} is saved as a design of its own; now log the order for it.", name=kept.name
            ))  # fmt: skip
            return url_for("orders.new", variant=kept.id)
        locked = kept is variant and variant.design.frozen_at is not None
        flash(
            say("Prices and shelf level saved; the design is locked by an order.")
            if locked
            else say("Saved as design {number}.", number=kept.design.number)
        )
        return url_for("journals.one", journal_id=journal.id, variant_id=kept.id)

    def now() -> Any:
        saved = structure_for(design.structure, design.dimensions)
        return _fields(saved, variant, fresh=True).form

    saves = _saves(form)
    if saves and (done := submit(form, keep, check=lambda: _sound(fields), now=now)):
        return done
    page = render_template(
        "journals/design.html", fields=fields, form=form, worked=_start_worked(fields),
        journal=journal, variant=variant, design=variant.design,
        pictures=pictures_of(db(), variant),
        variant_form=VariantForm(formdata=None), tried="try" in request.args,
    )  # fmt: skip
    return page, 422 if saves else 200


def _sound(fields: DesignFields) -> bool:
    """Whether a design as typed can be worked out, and all its measures were on the page."""
    good = fields.form.validate() and fields.check_amounts()
    if good and fields.unseen:
        fields.form.blame(DomainError(say("Look at its measures here, then save."), "closing"))
        return False
    return bool(good and _work_out(fields))


def _keep(variant: Variant, fields: DesignFields) -> Variant:
    version = typed_version(fields.form.version.data)
    if "one_off" in request.form:
        number = variant.design.journal.designs[-1].number + 1
        draft = fields.draft()
        if fields.batch_untouched:
            # A one-off is one, unless the maker said otherwise.
            draft = replace(draft, batch_size=1)
        return service.one_off(db(), variant, draft, say("One-off {number}", number=number))
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
    here = url_for("journals.one", journal_id=journal.id, variant_id=variant.id)

    def add() -> str:
        if not form.validate():
            raise DomainError(say("A variant needs a name, of at most 120 characters."))
        added = service.add_variant(db(), variant.design, form.variant_name.data, variant)
        flash(say("{name}: now choose its colours and findings.", name=added.name))
        return url_for("journals.one", journal_id=journal.id, variant_id=added.id)

    return press(add, lambda: redirect(here))


@pages.route("/<int:journal_id>/name", methods=["GET", "POST"])
def rename(journal_id: int) -> Any:
    """Change a journal's name or note, or put it away."""
    journal = need(Journal, journal_id)
    form = JournalForm(obj=journal)

    def save() -> str:
        version = typed_version(form.version.data)
        service.rename_journal(db(), journal, form.name.data, form.note.data, version)
        flash(say("Saved."))
        return url_for("journals.one", journal_id=journal.id)

    if done := submit(form, save, now=lambda: JournalForm(formdata=None, obj=journal)):
        return done
    page = render_template("journals/name.html", form=form, journal=journal)
    return page, 422 if form.is_submitted() else 200


@pages.post("/<int:journal_id>/away")
def put_away(journal_id: int) -> Any:
    """Take a journal off the lists, or put it back."""
    journal = need(Journal, journal_id)
    here = url_for("journals.rename", journal_id=journal_id)

    def put() -> str:
        service.put_away(db(), journal, away="back" not in request.form)
        flash(say("Put away; its orders stay.") if journal.retired else say("Brought back."))
        return here

    return press(put, lambda: redirect(here))
