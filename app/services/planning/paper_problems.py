"""One paper's question, read from the shop: built here for the list, the study and the batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from app.core.cutting.effort import Effort
from app.core.cutting.model import SheetOffer
from app.core.errors import DomainError
from app.core.money import currency
from app.core.planning.paper_problem import Dated, PaperProblem, SheetSource
from app.language import say
from app.models import Paper
from app.services.planning.cut_plans import known_layouts
from app.services.planning.requirements import Needs, PieceNeed
from app.services.planning.sheet_sources import ByKey, Source, sheet_offers


@dataclass(frozen=True)
class WhatIf:
    """What to suppose: sizes left alone, grain that may run either way, other trims."""

    without_sheets: frozenset[int] = frozenset()
    grain_free: bool = False
    trim_nm: int | None = None
    only_here: bool = False
    """Buy nothing: cut only the sheets that are here."""


AS_IT_IS = WhatIf()


@dataclass(frozen=True)
class PaperQuestion:
    """A paper's problem, and what its sources' keys stand for in the shop."""

    paper: Paper
    rows: tuple[PieceNeed, ...]
    problem: PaperProblem
    by_key: ByKey


def paper_question(
    found: Needs,
    rows: Sequence[PieceNeed],
    on: date,
    effort: Effort,
    *,
    apart: bool = False,
    suppose: WhatIf = AS_IT_IS,
    in_stock_only: bool = False,
) -> PaperQuestion:
    """The question for the pieces of one paper; ``in_stock_only`` leaves out what is to come."""
    paper = rows[0].paper
    offers, by_key = sheet_offers(found, paper, on, currency(found.shop.currency))
    sources = tuple(
        SheetSource(
            _supposed(offer, source, suppose),
            source.state,
            source.days(on),
            source.label,
            source.what,
            by_length=source.what == "length",
            unit=found.shop.unit,
        )
        for offer in offers
        for source in (by_key[offer.key],)
        if source.stock_sheet.id not in suppose.without_sheets
        and (source.offer is None or not suppose.only_here)
        and (source.here or not in_stock_only)
    )
    wanted = tuple(need.as_wanted() for need in rows)
    if suppose.grain_free:
        wanted = tuple(replace(w, piece=replace(w.piece, grain=None)) for w in wanted)
    dated = [
        Dated((found.times.start(demand) - on).days, demand)
        for need in rows
        for demand in need.demands
    ]
    dated.sort(key=lambda row: (row.days, row.demand.by, row.demand.link, row.demand.thing))
    cutter = found.shop.cutter_for(paper)
    start = known_layouts(paper.cut_plan, cutter)
    problem = PaperProblem(wanted, sources, tuple(dated), cutter, effort, apart, start)
    return PaperQuestion(paper, tuple(rows), problem, by_key)


def _supposed(offer: SheetOffer, source: Source, suppose: WhatIf) -> SheetOffer:
    if suppose.trim_nm is None:
        return offer
    sheet = replace(offer.sheet, trim_nm=suppose.trim_nm)
    # How long a piece of a roll is, is not known yet.
    sides = sheet.usable[:1] if source.what == "length" else sheet.usable
    if min(sides) <= 0:
        raise DomainError(say("Trimming so much leaves nothing of a sheet."), "trim_nm")
    return replace(offer, sheet=sheet)
