"""What a design leads to at the bench: steps, templates at full size; its map, and comparisons."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, abort, render_template, request

from app.core.errors import DomainError
from app.documents import drawings
from app.documents.charts import map_drawing
from app.documents.templates import template_pdf, template_svg, templates
from app.language import say, to_say
from app.models import Journal, Variant
from app.services.designs import first_batch
from app.services.designs import journals as service
from app.services.designs.cheaper import cheaper
from app.services.designs.comparing import MOST_COMPARED, compare
from app.services.designs.estimating import Estimate
from app.services.designs.yield_stairs import yield_map
from app.services.stock import materials
from app.web.frame.fields import Form, Needed, PercentField, WholeField
from app.web.frame.filters import bare_length, length
from app.web.frame.how_made import how_made
from app.web.frame.session import db, find, need, prices, shop, today

pages = Blueprint("making", __name__, url_prefix="/journals")
AT = "/<int:journal_id>/variants/<int:variant_id>"


def _variant(journal_id: int, variant_id: int) -> Variant:
    journal, variant = need(Journal, journal_id), need(Variant, variant_id)
    if variant.design.journal is not journal:
        abort(404)
    return variant


def _estimate(variant: Variant) -> Estimate:
    """The design worked out; a page that is not there where it cannot be."""
    try:
        return service.estimate_by(prices(), variant)
    except DomainError:
        abort(404)


def _heading(variant: Variant) -> str:
    journal, number = variant.design.journal.name, variant.design.number
    return say("{journal}, design {number}", journal=journal, number=number)


@pages.get(AT + "/steps")
def steps(journal_id: int, variant_id: int) -> str:
    """How to make one, step by step, for a helper who never did."""
    variant = _variant(journal_id, variant_id)
    how = how_made(variant, _estimate(variant))
    return render_template("journals/steps.html", variant=variant, design=variant.design, how=how)


@pages.get(AT + "/templates.pdf")
def pdf(journal_id: int, variant_id: int) -> Response:
    """All templates at full size on the shop's printer paper."""
    variant = _variant(journal_id, variant_id)
    found = templates(_estimate(variant).build)
    if not found:
        abort(404)
    made = template_pdf(found, _heading(variant), length, shop().print_paper)
    name = f"templates-{variant.design.journal_id}-{variant.design.number}.pdf"
    return Response(
        made, mimetype="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )  # fmt: skip


@pages.get(AT + "/templates/<key>.svg")
def svg(journal_id: int, variant_id: int, key: str) -> Response:
    """One template as SVG in millimetres."""
    variant = _variant(journal_id, variant_id)
    found = {t.key: t for t in templates(_estimate(variant).build)}
    if key not in found:
        abort(404)
    return Response(
        template_svg(found[key], _heading(variant)), mimetype="image/svg+xml",
        headers={"Content-Disposition": f'attachment; filename="{key}.svg"'},
    )  # fmt: skip


@pages.get(AT + "/map")
def yields(journal_id: int, variant_id: int) -> str:
    """How the yield changes with both dimensions of the leaf, and with the sheet."""
    variant = _variant(journal_id, variant_id)
    worked = _estimate(variant)
    maps = [
        (found, map_drawing([(r.height_nm, r.steps) for r in found.rows], found.low_nm,
                            found.now_nm, bare_length, f"map-{found.role.key}"))
        for found in yield_map(worked, variant.design.dimensions)
    ]  # fmt: skip
    sheets = [
        (role, [(option, drawings.sheet_drawing(option.cut, bare_length, f"s-{role.key}-{n}",
                                                option.said))
                for n, option in enumerate(role.options)])
        for role in worked.papers
    ]  # fmt: skip
    return render_template(
        "journals/map.html", variant=variant, design=variant.design, maps=maps, sheets=sheets,
        worked=worked,
    )  # fmt: skip


@pages.get(AT + "/cheaper")
def cheaper_ways(journal_id: int, variant_id: int) -> str:
    """Single changes that would make it cheaper, by what they save."""
    variant = _variant(journal_id, variant_id)
    try:
        now, ways = cheaper(prices(), materials.papers(db()), service.draft_of(variant))
    except DomainError:
        abort(404)
    return render_template(
        "journals/cheaper.html", variant=variant, design=variant.design, now=now, ways=ways
    )


class FirstForm(Form):
    """How many are made together, and how quickly the hand learns."""

    class Meta:
        """Asking changes nothing, so the question can be an address."""

        csrf = False

    count = WholeField(to_say("Made together"), [Needed()], least=1, most=10_000)
    rate = PercentField(
        to_say("Twice as many made, each takes"), [Needed()], most=100,
        description=to_say("Of the time before: 80 to 90 for work by hand."),
    )  # fmt: skip
    practised = WholeField(
        to_say("The hand knows it after"),
        [Needed()],
        least=1,
        most=1000,
        words=("journals", "journal"),
    )


@pages.get(AT + "/first-batch")
def first(journal_id: int, variant_id: int) -> Any:
    """What a first batch takes until the hand knows it."""
    variant = _variant(journal_id, variant_id)
    start = {"count": shop().batch_size, "rate": first_batch.USUAL_RATE,
             "practised": first_batch.PRACTISED}  # fmt: skip
    asked = any(name in request.args for name in start)
    form = FirstForm(formdata=request.args if asked else None, data=start)
    before, found = first_batch.made_so_far(db(), variant), None
    if not asked or form.validate():
        if form.rate.data <= 0:
            form.rate.errors = [say("More than 0, and at most 100.")]
        else:
            try:
                worked = service.estimate_by(prices(), variant, form.count.data)
            except DomainError:
                abort(404)
            found = first_batch.first_batch(worked, form.rate.data, form.practised.data, before)
    return render_template(
        "journals/first_batch.html", variant=variant, design=variant.design, form=form,
        before=before, found=found,
    ), 200 if found else 422  # fmt: skip


@pages.get("/compare")
def side_by_side() -> Any:
    """Up to four designs held against one another."""
    asked = [int(v) for v in request.args.getlist("with") if v.isdecimal() and len(v) < 10]
    chosen = [v for v in (find(Variant, n) for n in dict.fromkeys(asked)) if v is not None]
    sides, rows = compare(db(), chosen[:MOST_COMPARED], today()) if chosen else ([], [])
    every = [
        (variant, design)
        for journal in service.journals(db())
        for design in journal.designs
        for variant in design.variants
        if not variant.retired
    ]
    return render_template(
        "journals/compare.html", sides=sides, rows=rows, every=every,
        asked={v.id for v in chosen[:MOST_COMPARED]}, most=MOST_COMPARED,
        left_out=chosen[MOST_COMPARED:],
    )  # fmt: skip
