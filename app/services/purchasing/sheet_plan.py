"""A paper's part of the buy list: the cutting plan decides which sheets, whole packs of whom.

All kinds of pieces of one paper are planned together. Sheets that are there soonest serve what
is wanted first, and an offer that comes too late for what it would be bought for is left out as
long as the rest can do it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.money import Currency
from app.core.planning.paper_answer import PaperAnswer, Rival
from app.core.planning.sharing import SheetCut
from app.language import say, to_say
from app.models import Paper
from app.services.designs.made_here import is_own
from app.services.planning.paper_problems import PaperQuestion
from app.services.planning.requirements import Needs, PieceNeed
from app.services.planning.sheet_sources import ByKey, sheets_said, what_is_cut
from app.services.planning.supply import Coming
from app.services.purchasing.buy_lines import BuyLine, OtherWay, comes_after, line_for
from app.services.stock.ledger import item_key
from app.services.stock.materials import sheet_said

NOT_ALONE = to_say("no plan was found; it may be too small for a piece, or its grain bars it")


@dataclass(frozen=True)
class PaperPlan:
    """A paper's list: what is cut from which sheets, on hand or bought, and the other ways."""

    paper: Paper
    needs: tuple[PieceNeed, ...]
    answer: PaperAnswer
    plan: BatchPlan
    cuts: tuple[SheetCut, ...]
    lines: tuple[BuyLine, ...]
    spend: Decimal
    otherwise: OtherWay | None
    """What it takes with kinds cut apart, or together where they are apart; None: not asked."""
    others: tuple[OtherWay, ...]
    sources: Mapping[str, str]
    """Whose each sheet is, in words, by the key of its offer."""
    coming: Mapping[str, Coming]
    """What is on its way or drafted, by the key of its source."""
    items: Mapping[str, str]
    """Which stock sheet each source has, by its key."""
    late: tuple[str, ...] = ()
    made: tuple[BuyLine, ...] = ()
    """What of it the shop makes for itself; ``lines`` are what it buys."""

    @property
    def supply_said(self) -> str:
        """Where the sheets that are cut come from, in a sentence."""
        made = sum(cut.sheets for line in self.made for cut in line.cuts)
        return sheets_said(self.answer.sheets_by_state, made, what_is_cut(self.answer))


def paper_plan(
    found: Needs, asked: PaperQuestion, answer: PaperAnswer, on: date, money: Currency
) -> PaperPlan:
    """A paper's part of the list, out of the answer to its question."""

    def amount(minor: int) -> Decimal:
        return Decimal(minor).scaleb(-money.digits)

    cuts, by_key = answer.cuts, asked.by_key
    lines = _sheet_lines(found, asked, answer, cuts, on, amount)
    return PaperPlan(
        asked.paper, asked.rows, answer, answer.plan, cuts,
        tuple(line for line in lines if not is_own(line.offer)),
        sum((line.cost for line in lines), Decimal(0)),
        _other_way(answer.otherwise, amount) if answer.otherwise else None,
        tuple(_other_way(rival, amount) for rival in answer.rivals),
        {key: source.label for key, source in by_key.items()},
        {key: source.coming for key, source in by_key.items() if source.coming},
        {key: item_key(source.stock_sheet) for key, source in by_key.items()},
        _late_sheets(found, asked.paper, cuts, by_key),
        tuple(line for line in lines if is_own(line.offer)),
    )  # fmt: skip


def _other_way(rival: Rival, amount: Callable[[int], Decimal]) -> OtherWay:
    if rival.spend is None:
        return OtherWay(rival.name, None, say(NOT_ALONE))
    why_not = say("comes too late") if rival.late else None
    return OtherWay(rival.name, amount(rival.spend), why_not)


def _sheet_lines(
    found: Needs,
    asked: PaperQuestion,
    answer: PaperAnswer,
    cuts: Sequence[SheetCut],
    on: date,
    amount: Callable[[int], Decimal],
) -> list[BuyLine]:
    """One line an offer bought."""
    lines: list[BuyLine] = []
    for buy in answer.plan.bought:
        source = asked.by_key[buy.offer.key]
        stock_sheet, offer = source.stock_sheet, source.offer
        mine = tuple(cut for cut in cuts if cut.source == buy.offer.key)
        pegs = tuple(peg for cut in mine for peg in cut.pegs)
        if offer is None or not pegs:
            continue
        size = sheet_said(stock_sheet, found.shop.unit)
        packs = buy.packs * answer.problem.by_key[buy.offer.key].packs
        lines.append(
            line_for(
                found, stock_sheet, f"{asked.paper.name}, {size}", offer, packs,
                amount(buy.cost), pegs, on, mine,
            )
        )  # fmt: skip
    return lines


def _late_sheets(
    found: Needs, paper: Paper, cuts: Sequence[SheetCut], by_key: ByKey
) -> tuple[str, ...]:
    """Sheets on their way that come after the bench should begin with them."""
    said: dict[str, None] = {}
    for cut in cuts:
        coming = by_key[cut.source].coming
        for peg in cut.pegs if coming else ():
            starts = found.times.start(peg.demand)
            if coming and coming.expected_on > starts:
                said[comes_after(paper.name, coming, starts, peg.demand)] = None
    return tuple(said)


def why_no_plan(asked: PaperQuestion) -> str:
    """That a paper cannot be planned, and what to do about it."""
    paper = asked.paper
    if not any(offer.breaks for offer in asked.problem.offers):
        return say(
            "{paper}: more is needed than there is, and no supplier's offer is on record. Add an "
            "offer to one of its sheets.",
            paper=paper.name,
        )
    return say(
        "{paper}: the sheets that have an offer are too small for a piece that is needed. Add an "
        "offer for the size that fits.",
        paper=paper.name,
    )
