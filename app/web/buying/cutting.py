"""Planning what to cut: the whole list or a batch, supposing this or that; and what else fits."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any
from urllib.parse import parse_qsl, urlencode

from flask import (
    Blueprint,
    Response,
    abort,
    current_app,
    flash,
    jsonify,
    redirect,
    render_template,
    request,
    url_for,
)
from wtforms import BooleanField, SelectField

from app.core.cutting.effort import Effort, Progress
from app.core.errors import DomainError
from app.core.length import MM
from app.core.paper import GRAINS
from app.db import transaction
from app.documents.drawings import layout_drawing
from app.language import say, to_say
from app.models import Paper, StockSheet, Variant
from app.services.bench import cut_study as cutting
from app.services.bench.cut_study import CutAnswer, CutQuestion, Filled, StudiedPaper
from app.services.designs.journals import sellable
from app.services.planning.paper_problems import AS_IT_IS, WhatIf
from app.services.planning.plans import keep_answers, kept_answers
from app.services.planning.requirements import Needs
from app.services.purchasing.buy_list import buy_list
from app.services.stock.materials import papers
from app.web.frame.asked import markets_asked
from app.web.frame.fields import (
    Between,
    Form,
    LengthField,
    Needed,
    WholeField,
    choice_field,
    offered,
)
from app.web.frame.filters import bare_length, item_name, length, piece_names
from app.web.frame.jobs import Job, Jobs, key_of
from app.web.frame.session import db, find, prices, shop, today
from app.web.frame.submission import press

pages = Blueprint("cutting", __name__, url_prefix="/buying/cutting")
PATIENCE = 0.7
"""A page waits so many seconds for a plan before it shows how far it is."""
TRIM_MOST = 100 * MM


def jobs() -> Jobs:
    """The plans being worked out or worked out lately."""
    found: Jobs = current_app.extensions["jobs"]
    return found


class CutForm(Form):
    """What to cut, and what to suppose."""

    class Meta:
        """Asking changes nothing, so the question can be an address."""

        csrf = False

    what = choice_field(
        to_say("Cut for"),
        [("list", to_say("all that is still wanted")), ("batch", to_say("a batch of…"))],
        default="list",
    )  # fmt: skip
    effort = choice_field(
        to_say("Search"), [
            (Effort.LIVE.value, to_say("quickly, as the buy list does")),
            (Effort.NORMAL.value, to_say("well: some seconds a paper")),
            (Effort.THOROUGH.value, to_say("thoroughly: up to a minute a paper")),
        ],
        default=Effort.NORMAL.value,
        description=to_say("More search finds a little more, and says how near the best it is."),
    )  # fmt: skip
    grain_free = BooleanField(to_say("Let the grain run either way"))
    only_here = BooleanField(to_say("Buy nothing: cut only what is here"))
    trim_nm = LengthField(
        to_say("Trim off every edge"), [Between(0, TRIM_MOST, length)],
        description=to_say("Leave empty to trim each sheet as its own page says."),
    )  # fmt: skip


def _form(variants: Iterable[Variant], sheets: Iterable[StockSheet]) -> Any:
    """The form with a number for every journal and a tick for every sheet."""

    class Asked(CutForm):
        pass

    for variant in variants:
        setattr(Asked, f"make_{variant.id}", WholeField(variant.full_name, least=0, most=10_000))
    for sheet in sheets:
        setattr(Asked, f"without_{sheet.id}", BooleanField(item_name(sheet)))
    form = Asked(formdata=request.args or None)
    if "effort" not in request.args:
        form.effort.data = _effort_of_old(request.args.get("seconds", "")).value
    return form


def _effort_of_old(seconds: str) -> Effort:
    """The effort of an address that still says seconds."""
    if not seconds.isdecimal() or len(seconds) > 4:
        return Effort.NORMAL
    return Effort.NORMAL if int(seconds) <= 10 else Effort.THOROUGH


@pages.get("")
def page() -> Any:
    """The form, and under it the plan or how far it is."""
    variants = sellable(db())
    sheets = [s for paper in papers(db()) for s in paper.sheets if not s.retired]
    form = _form(variants, sheets)
    context: dict[str, Any] = {
        "form": form, "variants": variants, "sheets": sheets, "answer": None, "job": None,
        "base": None, "markets": markets_asked(request.args),
        "makes": [form[f"make_{v.id}"] for v in variants],
        "leaves": [form[f"without_{s.id}"] for s in sheets],
    }  # fmt: skip
    if "what" in request.args and form.validate():
        try:
            context |= _asked(form, variants, sheets)
        except DomainError as error:
            form.blame(error)
    return render_template("buying/cutting.html", **context)


def _asked(form: Any, variants: list[Variant], sheets: list[StockSheet]) -> dict[str, Any]:
    suppose = WhatIf(
        frozenset(s.id for s in sheets if form[f"without_{s.id}"].data),
        bool(form.grain_free.data), form.trim_nm.data, bool(form.only_here.data),
    )  # fmt: skip
    batch = {v: n for v in variants if (n := form[f"make_{v.id}"].data)}
    if form.what.data == "batch" and not batch:
        raise DomainError(say("Say how many of which journal to make."), "what")
    question = _question(form, batch, suppose)
    job = _job(question)
    base = job if suppose == WhatIf() else _job(_question(form, batch, WhatIf()))
    job.done.wait(PATIENCE)
    if not job.done.is_set():
        return {"job": job}
    asked = batch if form.what.data == "batch" else {}
    if job.refusal or job.answer is None:
        raise DomainError(job.refusal or say("The plan could not be worked out."))
    before = base.answer if base is not job and base.done.wait(PATIENCE) else None
    return {
        "answer": job.answer, "base": before, "batch": asked, "keep": job.key,
        "asked_for": _same_question(),
        "drawings": _drawings(job.answer),
    }  # fmt: skip


def _question(form: Any, batch: dict[Variant, int], suppose: WhatIf) -> CutQuestion:
    effort = Effort(form.effort.data)
    if form.what.data == "batch":
        return cutting.ask_for_batch(db(), today(), effort, suppose, batch)
    markets = markets_asked(request.args)
    return cutting.ask_for_list(db(), today(), effort, suppose, markets, _wanted(markets))


def _wanted(markets: Collection[int] | None) -> Needs | None:
    """All that is wanted, where the shop makes something for itself that wants more."""
    return buy_list(db(), today(), markets).needs if prices().recipes else None


def _same_question() -> str:
    """This request's question as the end of an address."""
    return urlencode(list(request.args.items(multi=True)))


def _job(question: CutQuestion) -> Job[CutAnswer]:
    """The answer, begun beside the page where it is not kept from before."""
    sessions = current_app.extensions["sessions"]
    kept = kept_answers(db(), [paper.problem for paper in question.papers])

    def work(told: Progress) -> CutAnswer:
        answer = cutting.plan_cuts(question, told, kept)
        new = {digest: data for digest, data in answer.solved.items() if digest not in kept}
        with transaction(sessions) as session:
            keep_answers(session, new)
        return answer

    return jobs().ask(question.key, work)


def _drawings(answer: CutAnswer) -> dict[tuple[int, int], str]:
    """A drawing for each sheet of each paper, by their places."""
    return {
        (p, s): _drawing(paper, s, f"sheet-{p}-{s}")
        for p, paper in enumerate(answer.papers)
        for s in range(len(paper.sheets))
    }


def _drawing(paper: StudiedPaper, number: int, key: str) -> str:
    cut = paper.sheets[number]
    layout = cut.use.layout
    names = piece_names({asked.key: asked.piece for asked in paper.question.pieces})
    return layout_drawing(
        layout, cut.steps, names, bare_length, key,
        cut.use.supply.sheet.grain, layout.offcuts_worth_keeping(shop().smallest_offcut),
    )  # fmt: skip


@pages.get("/progress/<key>")
def progress(key: str) -> Response:
    """How far a plan is."""
    job = jobs().find(key)
    if job is None:
        abort(404)
    done = job.done.is_set()
    return jsonify(doing=job.doing, share=round(job.share, 3), done=done)


@pages.post("/stop/<key>")
def stop(key: str) -> Any:
    """Stop a plan; its best so far is its answer."""
    job = jobs().find(key)
    if job is not None:
        job.stop.set()
        job.done.wait(3)
    question = urlencode(parse_qsl(request.form.get("question", "")[:4000]))
    return redirect(url_for("cutting.page") + ("?" + question if question else ""))


@pages.post("/keep/<key>")
def keep(key: str) -> Any:
    """Buy by a plan: the buy list begins from it from now on.

    The address bears the question, so that the plan is found again after a restart, and it is
    seen where what was asked has changed since.
    """
    again = f"{url_for('cutting.page')}?{_same_question()}"
    return press(lambda: _buy_by(key), lambda: redirect(again))


def _buy_by(key: str) -> str:
    effort = request.args.get("effort", "")
    question = cutting.ask_for_list(
        db(), today(), Effort(effort) if effort in tuple(Effort) else Effort.NORMAL, AS_IT_IS,
        markets_asked(request.args), _wanted(markets_asked(request.args)),
    )  # fmt: skip
    kept = kept_answers(db(), [paper.problem for paper in question.papers])
    if key != key_of(question.key) or len(kept) < len({p.problem.digest for p in question.papers}):
        raise DomainError(say("Something that plan rests on has changed since: here it is anew."))
    cutting.buy_by(db(), cutting.plan_cuts(question, None, kept))
    flash(say("The buy list follows this plan now, as far as what is wanted stays the same."))
    return url_for("buying.page")


class FillForm(Form):
    """The remainder to fill."""

    class Meta:
        """Asking changes nothing, so the question can be an address."""

        csrf = False

    paper = SelectField(to_say("Paper"), coerce=int)
    width_nm = LengthField(to_say("Width"), [Needed(), Between(5 * MM, 3000 * MM, length)])
    height_nm = LengthField(to_say("Height"), [Needed(), Between(5 * MM, 3000 * MM, length)])
    grain = choice_field(
        to_say("Grain runs along its"),
        [("height", to_say("height")), ("width", to_say("width")), ("", to_say("not known"))],
    )
    pieces = choice_field(
        to_say("With"),
        [
            ("wanted", to_say("pieces still wanted")),
            ("all", to_say("pieces of anything you make")),
        ],
    )


@pages.get("/fill")
def fill() -> str:
    """What else fits on an offcut or the unused part of a sheet."""
    known = papers(db())
    form = FillForm(formdata=request.args or None)
    form.paper.choices = offered((p.id, p.name) for p in known)
    found: Filled | None = None
    asked = bool(request.args) and form.validate()
    paper = find(Paper, form.paper.data) if asked else None
    if paper is not None:
        grain = form.grain.data if form.grain.data in GRAINS else None
        rest = cutting.offcut_sheet(form.width_nm.data, form.height_nm.data, grain, shop())
        found = cutting.fill_offcut(
            db(), today(), paper, rest, only_wanted=form.pieces.data != "all"
        )
    drawing = None
    names: dict[str, str] = {}
    if found is not None:
        names = piece_names({key: asked.piece for key, asked in found.pieces.items()})
        drawing = layout_drawing(
            found.layout, found.steps, names, bare_length, "filled", form.grain.data or None,
            found.layout.offcuts_worth_keeping(shop().smallest_offcut),
        )  # fmt: skip
    return render_template(
        "buying/fill.html", form=form, found=found, asked=asked, drawing=drawing, names=names,
        papers=known,
    )  # fmt: skip
