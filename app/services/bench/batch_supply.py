"""What a batch takes: how its sheets are cut, what is short of each material, what there is for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.model import Break, NoPlanError, SheetOffer
from app.core.errors import DomainError
from app.core.money import currency
from app.models import Material, Paper, StockSheet, Variant
from app.services.planning.cut_plans import known_layouts, plan_paper
from app.services.planning.requirements import Needs, PieceNeed, batch_needs, pieces_wanted
from app.services.planning.sheet_sources import ByKey, sheet_offers
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

    def __init__(self, shorts: tuple[Shortfall, ...], troubles: tuple[str, ...]) -> None:
        many = len(shorts)
        short = f"{many} material{'' if many == 1 else 's'} are short." if many else ""
        super().__init__(" ".join(["It cannot be begun yet.", short, *troubles]).strip(), "form")
        self.shorts, self.troubles = shorts, troubles


@dataclass(frozen=True)
class PaperCut:
    """How a paper's sheets in stock are cut for a batch, and where each comes from."""

    paper: Paper
    pieces: tuple[PieceNeed, ...]
    plan: BatchPlan
    offers: tuple[SheetOffer, ...]
    sources: ByKey


@dataclass(frozen=True)
class Taking:
    """All a batch takes from the stock, if nothing is short."""

    needs: Needs
    cuts: tuple[PaperCut, ...]
    materials: Mapping[str, int]
    shorts: tuple[Shortfall, ...]
    troubles: tuple[str, ...]

    @property
    def feasible(self) -> bool:
        """Whether it can be begun."""
        return not self.shorts and not self.troubles


def what_it_takes(session: Session, wanted: Mapping[Variant, int], on: date) -> Taking:
    """What so many of some journals take, and what of it is short; nothing is written down."""
    found = batch_needs(session, on, wanted)
    cuts: list[PaperCut] = []
    shorts: list[Shortfall] = []
    troubles = list(found.troubles)
    for paper, rows in pieces_wanted(found):
        offers, sources = sheet_offers(found, paper, on, currency(found.shop.currency))
        here = tuple(offer for offer in offers if sources[offer.key].here)
        try:
            plan = _plan(found, paper, rows, here)
        except NoPlanError:
            missing = _missing_sheets(found, paper, rows, here)
            shorts += missing
            if not missing:
                troubles.append(f"{paper.name}: a piece fits on none of its sheets.")
        else:
            cuts.append(PaperCut(paper, tuple(rows), plan, here, sources))
    amounts: dict[str, int] = {}
    for demand in found.material_demands:
        amounts[demand.thing] = amounts.get(demand.thing, 0) + demand.quantity
    for key, amount in amounts.items():
        if amount > found.there(key):
            short = amount - found.there(key)
            shorts.append(Shortfall(found.materials[key], short, _supply(found, key)))
    return Taking(found, tuple(cuts), amounts, tuple(shorts), tuple(troubles))


def _plan(
    found: Needs, paper: Paper, rows: list[PieceNeed], offers: tuple[SheetOffer, ...]
) -> BatchPlan:
    cutter = found.shop.cutter
    wanted = tuple(row.as_wanted() for row in rows)
    return plan_paper(wanted, offers, cutter, Effort.LIVE, known_layouts(paper.cut_plan, cutter))


def _missing_sheets(
    found: Needs, paper: Paper, rows: list[PieceNeed], here: tuple[SheetOffer, ...]
) -> list[Shortfall]:
    """The fewest sheets, by area, that would have to be here as well."""
    more = {}
    for sheet in paper.sheets:
        if not sheet.retired:
            area = Break(1, max(sheet.width_nm * sheet.height_nm // 10**12, 1))
            offer = SheetOffer(f"more-{sheet.id}", sheet.as_sheet(""), breaks=(area,))
            more[offer.key] = (sheet, offer)
    try:
        plan = _plan(found, paper, rows, (*here, *(o for _, o in more.values())))
    except NoPlanError:
        return []
    return [
        Shortfall(
            more[buy.offer.key][0], buy.sheets,
            _supply(found, item_key(more[buy.offer.key][0])),
        )
        for buy in plan.bought
    ]  # fmt: skip


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
