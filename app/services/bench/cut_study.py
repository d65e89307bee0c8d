"""Planning what to cut: a question about a batch or the whole list, and its answer by paper.

The question is read from the shop into plain values first; working the answer out touches no
database, so it can run beside the page, tell how far it is and be stopped.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from sqlalchemy.orm import Session

from app.core.cutting.cut_sequence import Account, CutStep, account, cut_steps, tidied
from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Effort, Progress, Work
from app.core.cutting.many_sheets.plan import BatchPlan, LayoutUse
from app.core.cutting.many_sheets.planner import plan_apart
from app.core.cutting.model import NoPlanError
from app.core.cutting.one_sheet.filling import fill_sheet
from app.core.cutting.one_sheet.limits import Kind
from app.core.cutting.one_sheet.unlimited import fitting
from app.core.cutting.one_sheet.yields import lying_ways
from app.core.cutting.tree import Layout
from app.core.length import show_size
from app.core.money import Currency, currency, half_up
from app.core.paper import Piece, Sheet
from app.core.planning.paper_answer import PaperAnswer
from app.core.planning.paper_problem import PaperProblem
from app.language import about, say
from app.models import Paper, Shop, Variant
from app.services.designs.journals import sellable
from app.services.planning.cut_plans import keep_cut_plan, plan_data
from app.services.planning.paper_problems import AS_IT_IS, WhatIf, paper_question
from app.services.planning.plans import read_answer, solve
from app.services.planning.requirements import (
    Needs,
    PieceNeed,
    batch_needs,
    needs,
    pieces_wanted,
)
from app.services.planning.sheet_sources import sheets_said, what_is_cut
from app.services.shop.settings import the_shop

FILL_STEPS = 800_000


@dataclass(frozen=True)
class AskedPiece:
    """A kind of piece with the journals it goes into."""

    key: str
    piece: Piece
    count: int
    designs: tuple[str, ...]

    @classmethod
    def of(cls, need: PieceNeed) -> AskedPiece:
        """The same without its paper and demands, which belong to a database session."""
        return cls(need.key, need.piece, need.count, need.designs)


@dataclass(frozen=True)
class AskedPaper:
    """One paper: the pieces wanted of it, and its problem in plain values."""

    name: str
    paper_id: int
    pieces: tuple[AskedPiece, ...]
    problem: PaperProblem


@dataclass(frozen=True)
class CutQuestion:
    """Everything the planner has to know, in plain values; ``problems`` could not be asked."""

    papers: tuple[AskedPaper, ...]
    cutter: Cutter
    smallest_offcut: tuple[int, int]
    currency: Currency
    effort: Effort
    problems: tuple[str, ...] = ()
    of_list: bool = False
    """Whether it is the buy list's question, with nothing supposed: it can be bought by."""

    @property
    def key(self) -> str:
        """The same question has the same key."""
        rest = (self.smallest_offcut, self.currency.code, self.cutter.lift, self.of_list)
        return repr(([(p.paper_id, p.problem.digest) for p in self.papers], rest))


def ask_for_list(
    session: Session, on: date, effort: Effort, suppose: WhatIf,
    market_ids: Collection[int] | None = None, wanted: Needs | None = None,
) -> CutQuestion:  # fmt: skip
    """What the open orders, the markets and the shelf still want; ``wanted`` if it is known."""
    question = _question(wanted or needs(session, on, market_ids), on, effort, suppose)
    return replace(question, of_list=suppose == AS_IT_IS)


def ask_for_batch(
    session: Session, on: date, effort: Effort, suppose: WhatIf, batch: Mapping[Variant, int]
) -> CutQuestion:
    """So many of chosen journals, made together."""
    return _question(batch_needs(session, on, batch), on, effort, suppose)


def _question(found: Needs, on: date, effort: Effort, suppose: WhatIf) -> CutQuestion:
    problems = list(found.problems)
    papers = []
    for paper, rows in pieces_wanted(found):
        problem = paper_question(found, rows, on, effort, suppose=suppose).problem
        if problem.sources:
            papers.append(
                AskedPaper(paper.name, paper.id, tuple(map(AskedPiece.of, rows)), problem)
            )
        else:
            problems.append(
                say("{paper}: there is no sheet to cut, here or on offer.", paper=paper.name)
            )
    papers.sort(key=lambda p: p.name)
    shop = found.shop
    return CutQuestion(
        tuple(papers), shop.cutter, shop.smallest_offcut, currency(shop.currency), effort,
        tuple(problems),
    )  # fmt: skip


@dataclass(frozen=True)
class Sums:
    """A way of cutting in figures: money, sheets, area account, cuts in all sheets."""

    spend: Decimal
    sheets: int
    area: Account
    cuts: int
    worth: Decimal
    """What the sheets cut are worth, those in stock and on the way first, then those to buy."""

    @property
    def waste_share(self) -> Fraction:
        """Waste as a share of the sheets cut."""
        return Fraction(self.area.waste, self.area.whole) if self.area.whole else Fraction(0)


@dataclass(frozen=True)
class CutSheet:
    """A layout to cut so many times, with its numbered cuts and the offcuts kept."""

    use: LayoutUse
    steps: tuple[CutStep, ...]
    area: Account

    @property
    def name(self) -> str:
        """The sheet's size in words."""
        return self.use.supply.sheet.name


@dataclass(frozen=True)
class StudiedPaper:
    """A paper's plan beside each piece by itself on a plain grid; ``why_not`` where none."""

    question: AskedPaper
    answer: PaperAnswer | None
    sheets: tuple[CutSheet, ...]
    sums: Sums | None
    grid: Sums | None
    bound: Decimal
    why_not: str = ""

    @property
    def supply_said(self) -> str:
        """Where the sheets that are cut come from, in a sentence."""
        if self.answer is None:
            return ""
        return sheets_said(self.answer.sheets_by_state, what=what_is_cut(self.answer))

    def what(self, cut: CutSheet) -> str:
        """What is cut by a layout: a sheet, a length off a roll, a hide."""
        sources = self.answer.problem.sources if self.answer else ()
        return next((s.what for s in sources if s.offer.sheet == cut.use.supply.sheet), "sheet")

    @property
    def plan(self) -> BatchPlan | None:
        """What to cut and to buy."""
        return self.answer.plan if self.answer else None

    @property
    def saved(self) -> Decimal | None:
        """Money less than by grids."""
        return self.grid.spend - self.sums.spend if self.grid and self.sums else None

    @property
    def at_most_over(self) -> Fraction:
        """How far the plan can be from the least money, as a share of it."""
        if self.plan is None or not self.plan.bound:
            return Fraction(0)
        return Fraction(self.plan.spend - self.plan.bound, self.plan.bound)


@dataclass(frozen=True)
class CutAnswer:
    """The plan for every paper."""

    question: CutQuestion
    papers: tuple[StudiedPaper, ...]
    solved: Mapping[str, Mapping[str, Any]]
    """Every paper's answer as data, by the digest of its problem."""

    @property
    def spend(self) -> Decimal:
        """Money for all sheets to buy."""
        return sum((p.sums.spend for p in self.papers if p.sums), Decimal(0))

    @property
    def saved(self) -> Decimal:
        """Money less than by grids, where both could be worked out."""
        return sum((p.saved for p in self.papers if p.saved is not None), Decimal(0))


def plan_cuts(
    question: CutQuestion,
    progress: Progress | None = None,
    kept: Mapping[str, Mapping[str, Any]] | None = None,
) -> CutAnswer:
    """Work a question out, but for the papers whose answers are ``kept`` by their digests.

    ``progress`` is told what is being done and the share gone.
    """
    papers, solved = [], dict(kept or {})
    for number, paper in enumerate(question.papers):

        def told(doing: str, share: float, at: int = number, name: str = paper.name) -> bool:
            if progress is None:
                return False
            return progress(about(name, doing), (at + share) / len(question.papers))

        digest = paper.problem.digest
        if digest not in solved:
            solved[digest] = solve(paper.problem, told)
        papers.append(_studied(question, paper, solved[digest]))
    return CutAnswer(question, tuple(papers), solved)


def buy_by(session: Session, answer: CutAnswer) -> None:
    """Let each paper keep this plan, so that the buy list begins from it."""
    for found in answer.papers:
        paper = session.get(Paper, found.question.paper_id)
        if paper is not None and found.plan is not None:
            cutter = found.question.problem.cutter
            keep_cut_plan(session, paper, plan_data(found.plan, cutter))


def _studied(question: CutQuestion, paper: AskedPaper, data: Mapping[str, Any]) -> StudiedPaper:
    try:
        answer = read_answer(paper.problem, data)
    except NoPlanError as error:
        why = _in_words(error.message, paper)
        return StudiedPaper(paper, None, (), None, None, Decimal(0), why)
    sheets = tuple(
        CutSheet(
            use,
            tuple(cut_steps(use.layout, use.repeats, question.cutter)),
            account(use.layout, question.smallest_offcut).times(use.repeats),
        )
        for use in answer.plan.uses
    )
    bound = Decimal(answer.plan.bound).scaleb(-question.currency.digits)
    grid = _by_grids(question, answer)
    return StudiedPaper(paper, answer, sheets, _sums(question, answer), grid, bound)


def _sums(question: CutQuestion, answer: PaperAnswer) -> Sums:
    """A plan in figures; every plan of a paper is summed this way, from the same supply."""
    digits, plan = question.currency.digits, answer.plan
    area = sum(
        (account(u.layout, question.smallest_offcut).times(u.repeats) for u in plan.uses),
        Account(0, 0, 0),
    )
    cuts = sum(use.layout.cuts * use.repeats for use in plan.uses)
    worth = half_up(answer.worth, Decimal(1)).scaleb(-digits)
    return Sums(Decimal(plan.spend).scaleb(-digits), plan.sheets, area, cuts, worth)


def _in_words(message: str, paper: AskedPaper) -> str:
    """A planner's refusal with the pieces' names in place of their keys."""
    for need in paper.pieces:
        message = message.replace(need.key, need.piece.named(1))
    return message


def _by_grids(question: CutQuestion, answer: PaperAnswer) -> Sums | None:
    """Each kind of piece by itself on a plain grid, as it would be done without a plan."""
    try:
        plan = plan_apart(answer.problem.wanted, answer.offers, answer.problem.cutter, grids=True)
    except NoPlanError:
        return None
    return _sums(question, replace(answer, plan=plan))


@dataclass(frozen=True)
class Filled:
    """The pieces that an offcut holds best, with the cuts that free them."""

    layout: Layout
    counts: dict[str, int]
    pieces: Mapping[str, AskedPiece]
    steps: tuple[CutStep, ...]
    used: Fraction
    proved: bool


def fill_offcut(
    session: Session, on: date, paper: Paper, rest: Sheet, *, only_wanted: bool
) -> Filled | None:
    """What else fits: the pieces of a paper that use most of an offcut's area.

    ``only_wanted`` takes no more of a piece than orders, markets and the shelf still want;
    otherwise any piece of the journals that are made of this paper.
    """
    shop = the_shop(session)
    pieces = _pieces_of(session, on, paper, only_wanted=only_wanted)
    width, height = rest.usable
    kinds, known = [], {}
    for need in pieces:
        worth = need.piece.width_nm * need.piece.height_nm // 10**8
        ways = fitting(width, height, lying_ways(replace(need.piece, name=need.key), rest, worth),
                       shop.cutter)  # fmt: skip
        most = width * height // (need.piece.width_nm * need.piece.height_nm)
        count = min(need.count, most) if only_wanted else most
        if ways and count:
            kinds.append(Kind(tuple(ways), worth, count))
            known[need.key] = AskedPiece.of(need)
    trims = (rest.trim_nm, rest.trim_nm)
    found = fill_sheet((width, height), kinds, shop.cutter, trims, Work(FILL_STEPS))
    if not found.value:
        return None
    tree = tidied(found.tree, shop.kerf_nm)
    layout = Layout(rest.width_nm, rest.height_nm, rest.trim_nm, tree)
    counts: dict[str, int] = {}
    for placed in layout.pieces:
        counts[placed.name] = counts.get(placed.name, 0) + 1
    book = account(layout, shop.smallest_offcut)
    return Filled(
        layout, counts, known, tuple(cut_steps(layout, 1, shop.cutter)),
        Fraction(book.pieces, book.whole), found.value == found.bound,
    )  # fmt: skip


def _pieces_of(session: Session, on: date, paper: Paper, *, only_wanted: bool) -> list[PieceNeed]:
    if only_wanted:
        return [need for need in needs(session, on).pieces if need.paper.id == paper.id]
    every = batch_needs(session, on, dict.fromkeys(sellable(session), 1))
    return [need for need in every.pieces if need.paper.id == paper.id]


def offcut_sheet(
    width_nm: int, height_nm: int, grain: str | None, shop: Shop, *, pattern_up: bool = False
) -> Sheet:
    """A remainder as a sheet of its own, its grain along the side it is said to run along."""
    name = show_size(width_nm, height_nm, shop.unit)
    return Sheet(name, width_nm, height_nm, grain, pattern_up)
