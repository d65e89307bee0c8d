"""A paper's part of the buy list: the cutting plan decides which sheets, whole packs of whom.

All kinds of pieces of one paper are planned together. Sheets that are there soonest serve what
is wanted first, and an offer that comes too late for what it would be bought for is left out as
long as the rest can do it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from app.core.cutting.batch import BatchPlan, LayoutUse
from app.core.cutting.cover import NoPlanError, SheetOffer, Wanted
from app.core.length import show_size
from app.core.money import Currency
from app.core.planning.requirements import Demand, Peg
from app.models import Paper, StockSheet
from app.services.buy_lines import (
    BuyLine,
    OtherWay,
    SheetCut,
    comes_after,
    comes_late,
    is_late,
    line_for,
)
from app.services.cut_plans import known_layouts, plan_paper, shared_sheets
from app.services.needs import Needs, PieceNeed, bench_starts
from app.services.sheet_sources import ByKey, sheet_offers

Planned = tuple[BatchPlan, list[SheetCut]]
WAY_SECONDS, MOST_WAYS = 0.05, 4
"""For each of so many other ways."""


@dataclass(frozen=True)
class Ask:
    """What the list is asked: the day, the money, the seconds a paper's plan may take; whether
    kinds of pieces are cut apart, and whether to price other ways."""

    on: date
    money: Currency
    seconds: float
    apart: bool = False
    with_other_ways: bool = False

    def amount(self, minor: int) -> Decimal:
        """Minor units as money."""
        return Decimal(minor).scaleb(-self.money.digits)


@dataclass(frozen=True)
class PaperPlan:
    """A paper's list: what is cut from which sheets, on hand or bought, and the other ways."""

    paper: Paper
    needs: tuple[PieceNeed, ...]
    plan: BatchPlan
    cuts: tuple[SheetCut, ...]
    lines: tuple[BuyLine, ...]
    spend: Decimal
    otherwise: Decimal | None
    """What it takes with kinds cut apart, or together where they are apart; None: not asked."""
    others: tuple[OtherWay, ...]
    sources: Mapping[str, str]
    """Whose each sheet is, in words, by the key of its offer."""
    to_buy: frozenset[str]
    """The keys that have to be bought."""
    late: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Sources:
    """The question for one paper, and where each sheet comes from."""

    wanted: tuple[Wanted, ...]
    offers: tuple[SheetOffer, ...]
    by_key: ByKey


def paper_plan(
    found: Needs, rows: Sequence[PieceNeed], ask: Ask, troubles: list[str]
) -> PaperPlan | None:
    """Plan one paper; what cannot be planned is added to the troubles."""
    paper = rows[0].paper
    offers, by_key = sheet_offers(found, paper, ask.on, ask.money)
    sources = _Sources(tuple(need.as_wanted() for need in rows), tuple(offers), by_key)
    planned = _in_time(found, rows, sources, ask)
    if planned is None:
        troubles.append(_why_no_plan(paper, offers))
        return None
    plan, cuts = planned
    lines = _sheet_lines(found, paper, plan, cuts, by_key, ask)
    price = bool(lines) and ask.with_other_ways
    return PaperPlan(
        paper, tuple(rows), plan, tuple(cuts), tuple(lines),
        sum((line.cost for line in lines), Decimal(0)),
        _otherwise(found, rows, sources, ask) if price and len(rows) > 1 else None,
        _other_ways(found, sources, ask) if price else (),
        {key: source.label for key, source in by_key.items()},
        frozenset(key for key, source in by_key.items() if source.offer is not None),
        _late_sheets(found, paper, cuts, by_key),
    )  # fmt: skip


def _in_time(
    found: Needs, rows: Sequence[PieceNeed], sources: _Sources, ask: Ask
) -> Planned | None:
    """The cheapest plan whose sheets come in time; where none does, the cheapest of all.

    If no offer is in time for what it is bought for, what nobody can deliver in time is cut
    from what is here before anything else is planned.
    """
    first, in_time = _rounds(None, found, rows, sources, ask)
    if in_time:
        return first
    begun = _what_is_here_first(found, rows, sources, ask)
    if begun is None:
        return first
    after, in_time = _rounds(begun, found, rows, sources, ask)
    return after if in_time else first or after


def _rounds(
    begun: BatchPlan | None,
    found: Needs,
    rows: Sequence[PieceNeed],
    sources: _Sources,
    ask: Ask,
) -> tuple[Planned | None, bool]:
    """Plan, and leave offers out that come too late, as long as the rest can do it.

    The plan in time, or the first one, and whether it is in time.
    """
    first: Planned | None = None
    tried = sources.offers
    while tried:
        try:
            plan = _plan_after(begun, found, rows, tried, ask)
        except NoPlanError:
            break
        cuts = _sheet_cuts(plan, rows, tried, sources.by_key, ask.on)
        first = first or (plan, cuts)
        late = _come_late(found, cuts, sources.by_key, ask.on)
        if not late:
            return (plan, cuts), True
        tried = tuple(offer for offer in tried if offer.key not in late)
    return first, False


def _come_late(found: Needs, cuts: Sequence[SheetCut], by_key: ByKey, on: date) -> set[str]:
    """The offers whose sheets would come too late for a demand that hangs on them."""
    return {
        cut.source
        for cut in cuts
        if cut.pegs
        and is_late(by_key[cut.source].offer, comes_late(found, [p.demand for p in cut.pegs], on))
    }


def _what_is_here_first(
    found: Needs, rows: Sequence[PieceNeed], sources: _Sources, ask: Ask
) -> BatchPlan | None:
    """A plan from the sheets here for the demands that no supplier can deliver for in time.

    None where there are none such, or the sheets here do not do.
    """
    leads = [s.offer.lead_days for s in sources.by_key.values() if s.offer is not None]
    early = []
    for need in rows:
        hurried = [
            d for d in need.demands if comes_late(found, [d], ask.on) < min(leads, default=0)
        ]
        early.append(replace(need.as_wanted(), count=sum(d.quantity for d in hurried)))
    here = tuple(
        offer for offer in sources.offers
        if (source := sources.by_key[offer.key]).offer is None and source.comes_on is None
    )  # fmt: skip
    if not here or not any(w.count for w in early):
        return None
    cutter = found.shop.cutter
    known = known_layouts(rows[0].paper.cut_plan, cutter)
    try:
        return plan_paper(tuple(early), here, cutter, ask.seconds, known, apart=ask.apart)
    except NoPlanError:
        return None


def _plan_after(
    begun: BatchPlan | None,
    found: Needs,
    rows: Sequence[PieceNeed],
    offers: tuple[SheetOffer, ...],
    ask: Ask,
) -> BatchPlan:
    """The plan for everything, after what is cut already where something is."""
    cutter = found.shop.cutter
    known = known_layouts(rows[0].paper.cut_plan, cutter)
    wanted = tuple(need.as_wanted() for need in rows)
    if begun is None:
        plan = plan_paper(wanted, offers, cutter, ask.seconds, known, apart=ask.apart)
        return replace(plan, uses=_urgent_first(plan, rows))
    used: dict[str, int] = {}
    for share in shared_sheets(begun, offers, dict.fromkeys((o.key for o in offers), 0)):
        used[share.source] = used.get(share.source, 0) + share.sheets
    left = tuple(replace(o, on_hand=o.on_hand - used.get(o.key, 0)) for o in offers)
    rest = tuple(
        replace(
            w, count=max(w.count - sum(u.counts.get(w.key, 0) * u.repeats for u in begun.uses), 0)
        )
        for w in wanted
    )
    plan = plan_paper(rest, left, cutter, ask.seconds, known, apart=ask.apart)
    return replace(plan, uses=(*_urgent_first(begun, rows), *_urgent_first(plan, rows)))


def _urgent_first(plan: BatchPlan, rows: Sequence[PieceNeed]) -> tuple[LayoutUse, ...]:
    """Layouts by the day on which a piece of theirs is first wanted."""
    first = {need.key: min(demand.by for demand in need.demands) for need in rows}
    return tuple(sorted(plan.uses, key=lambda use: min(first[key] for key in use.counts)))


def _sheet_cuts(
    plan: BatchPlan,
    rows: Sequence[PieceNeed],
    offers: Sequence[SheetOffer],
    by_key: ByKey,
    on: date,
) -> list[SheetCut]:
    """What is cut from which source, each kind's demands served by what is there soonest."""

    def days(key: str) -> int:
        source = by_key[key]
        if source.offer is not None:
            return source.offer.lead_days
        return (source.comes_on - on).days if source.comes_on else -1

    by_date = {need.key: sorted(need.demands, key=lambda d: (d.by, d.link)) for need in rows}
    soon = {offer.key: days(offer.key) for offer in offers}
    shares = shared_sheets(plan, offers, soon)
    cuts = []
    for share in sorted(shares, key=lambda share: soon[share.source]):
        pegs = [
            peg
            for key, count in share.use.counts.items()
            for peg in _serve(by_date[key], count * share.sheets)
        ]
        cuts.append(SheetCut(share.source, share.use, share.sheets, tuple(pegs)))
    return cuts


def _serve(demands: list[Demand], room: int) -> list[Peg]:
    """Serve the first demands with so many pieces; what of them is left stays in the list."""
    pegs = []
    while demands and room > 0:
        demand = demands.pop(0)
        taken = min(demand.quantity, room)
        pegs.append(Peg(demand, taken))
        room -= taken
        if taken < demand.quantity:
            demands.insert(0, replace(demand, quantity=demand.quantity - taken))
    return pegs


def _sheet_lines(
    found: Needs,
    paper: Paper,
    plan: BatchPlan,
    cuts: Sequence[SheetCut],
    by_key: ByKey,
    ask: Ask,
) -> list[BuyLine]:
    """One line an offer bought."""
    lines: list[BuyLine] = []
    for buy in plan.bought:
        source = by_key[buy.offer.key]
        stock_sheet, offer = source.stock_sheet, source.offer
        mine = tuple(cut for cut in cuts if cut.source == buy.offer.key)
        pegs = tuple(peg for cut in mine for peg in cut.pegs)
        if offer is None or not pegs:
            continue
        size = show_size(stock_sheet.width_nm, stock_sheet.height_nm, found.shop.unit)
        lines.append(
            line_for(
                found, stock_sheet, f"{paper.name}, {size}", offer, buy.packs,
                ask.amount(buy.cost), pegs, ask.on, mine,
            )
        )  # fmt: skip
    return lines


def _late_sheets(
    found: Needs, paper: Paper, cuts: Sequence[SheetCut], by_key: ByKey
) -> tuple[str, ...]:
    """Sheets on their way that come after the bench should begin with them."""
    said: dict[str, None] = {}
    for cut in cuts:
        comes_on = by_key[cut.source].comes_on
        for peg in cut.pegs if comes_on else ():
            starts = bench_starts(found, [peg.demand])
            if comes_on and comes_on > starts:
                coming = next(
                    c
                    for rows in found.coming.values()
                    for c in rows
                    if c.expected_on == comes_on and isinstance(c.item, StockSheet)
                )
                said[comes_after(paper.name, coming, starts, peg.demand)] = None
    return tuple(said)


def _why_no_plan(paper: Paper, offers: Sequence[SheetOffer]) -> str:
    if not any(offer.breaks for offer in offers):
        return (
            f"{paper.name}: more is needed than is here, and no supplier's offer is on record. "
            "Add an offer to one of its sheets."
        )
    return (
        f"{paper.name}: the sheets that have an offer are too small for a piece that is needed. "
        "Add an offer for the size that fits."
    )


def _otherwise(
    found: Needs, rows: Sequence[PieceNeed], sources: _Sources, ask: Ask
) -> Decimal | None:
    """What the same list takes with kinds apart, or together where it is asked apart."""
    planned = _in_time(found, rows, sources, replace(ask, apart=not ask.apart))
    return ask.amount(planned[0].spend) if planned else None


def _other_ways(found: Needs, sources: _Sources, ask: Ask) -> tuple[OtherWay, ...]:
    """The same list from one size alone, for each size that is offered."""
    here = [offer for offer in sources.offers if offer.limit == 0]
    sizes = dict.fromkeys(offer.sheet for offer in sources.offers if offer.breaks)
    ways: list[OtherWay] = []
    for sheet in list(sizes)[:MOST_WAYS] if len(sizes) > 1 else ():
        only = [offer for offer in sources.offers if offer.breaks and offer.sheet == sheet]
        try:
            plan = plan_paper(
                sources.wanted, (*here, *only), found.shop.cutter, WAY_SECONDS, apart=ask.apart
            )
            ways.append(OtherWay(sheet.name, ask.amount(plan.spend), None))
        except NoPlanError:
            ways.append(OtherWay(sheet.name, None, "too small for a piece, or its grain bars it"))
    return tuple(sorted(ways, key=lambda way: (way.spend is None, way.spend or 0)))
