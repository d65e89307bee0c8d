"""What a batch takes: how its sheets are cut, what is short of each material, what there is for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.cutting.model import Break, NoPlanError, SheetOffer
from app.core.errors import DomainError
from app.core.length import MM
from app.core.planning.paper_answer import PaperAnswer
from app.core.planning.paper_problem import TO_BUY, SheetSource
from app.language import say, say_many
from app.models import Material, StockSheet, Variant
from app.services.planning.paper_problems import PaperQuestion, paper_question
from app.services.planning.plans import answer_of
from app.services.planning.requirements import Needs, batch_needs, pieces_wanted
from app.services.planning.supply import Supply, supply_of
from app.services.stock.ledger import item_key


@dataclass(frozen=True)
class Shortfall:
    """How much of one thing is missing for a batch, and what there is of it, in base units."""

    item: StockSheet | Material
    short: int
    supply: Supply


class ShortError(DomainError):
    """A batch cannot be begun; ``shorts`` says of which material how much is missing."""

    def __init__(self, shorts: tuple[Shortfall, ...], problems: tuple[str, ...]) -> None:
        many = len(shorts)
        short = say_many(many, "{n} material is short.", "{n} materials are short.") if many else ""
        said = [say("It cannot be begun yet."), short, *problems]
        super().__init__(" ".join(said).strip(), "form")
        self.shorts, self.problems = shorts, problems


@dataclass(frozen=True)
class PaperCut:
    """How a paper's sheets in stock are cut for a batch."""

    asked: PaperQuestion
    answer: PaperAnswer


@dataclass(frozen=True)
class Taking:
    """All a batch takes from the stock, if nothing is short."""

    needs: Needs
    cuts: tuple[PaperCut, ...]
    materials: Mapping[str, int]
    shorts: tuple[Shortfall, ...]
    problems: tuple[str, ...]

    @property
    def feasible(self) -> bool:
        """Whether it can be begun."""
        return not self.shorts and not self.problems


def what_it_takes(session: Session, wanted: Mapping[Variant, int], on: date) -> Taking:
    """What so many of some journals take, and what of it is short; nothing is written down."""
    return supplied(session, batch_needs(session, on, wanted), on)


def supplied(session: Session, found: Needs, on: date) -> Taking:
    """How all that is needed at once is cut and taken from the stock, and what of it is short."""
    cuts: list[PaperCut] = []
    shorts: list[Shortfall] = []
    problems = list(found.problems)
    for paper, rows in pieces_wanted(found):
        asked = paper_question(found, rows, on, Effort.LIVE, in_stock_only=True)
        try:
            cuts.append(PaperCut(asked, answer_of(session, asked.problem)))
        except NoPlanError:
            missing = _missing_sheets(session, found, asked)
            shorts += missing
            if not missing:
                problems.append(
                    say("{paper}: a piece fits on none of its sheets.", paper=paper.name)
                )
    amounts: dict[str, int] = {}
    for demand in found.material_demands:
        amounts[demand.thing] = amounts.get(demand.thing, 0) + demand.quantity
    for key, amount in amounts.items():
        if amount > found.there(key):
            short = amount - found.there(key)
            shorts.append(Shortfall(found.materials[key], short, _supply(found, key)))
    return Taking(found, tuple(cuts), amounts, tuple(shorts), tuple(problems))


def _missing_sheets(session: Session, found: Needs, asked: PaperQuestion) -> list[Shortfall]:
    """The fewest sheets, by area, that would have to be here as well."""
    more: dict[str, StockSheet] = {}
    sources = list(asked.problem.sources)
    for sheet in asked.paper.sheets:
        if not sheet.retired:
            # A roll is asked for by the millimetre.
            pack = MM if sheet.by_length else 1
            area = Break(1, max(sheet.width_nm * sheet.height_nm * pack // 10**12, 1))
            offer = SheetOffer(f"more-{sheet.id}", sheet.as_sheet(""), pack, breaks=(area,))
            more[offer.key] = sheet
            sources.append(SheetSource(offer, TO_BUY, 0, by_length=sheet.by_length))
    try:
        answer = answer_of(session, replace(asked.problem, sources=tuple(sources)))
    except NoPlanError:
        return []
    return [
        Shortfall(
            sheet,
            buy.sheets * answer.problem.by_key[buy.offer.key].takes,
            _supply(found, item_key(sheet)),
        )
        for buy in answer.plan.bought
        for sheet in (more[buy.offer.key],)
    ]


def _supply(found: Needs, key: str) -> Supply:
    return supply_of(found.there(key), found.coming.get(key, ()))


def enough_for(session: Session, wanted: Mapping[Variant, int], on: date) -> dict[Variant, int]:
    """As many of each, in this order, as there is material for."""
    chosen: dict[Variant, int] = {}
    for variant, number in wanted.items():
        low, high, tried = 0, number, number
        while low < high:
            taking = what_it_takes(session, {**chosen, variant: tried}, on)
            low, high = (tried, high) if taking.feasible else (low, tried - 1)
            tried = (low + high + 1) // 2
        if low:
            chosen[variant] = low
    return chosen
