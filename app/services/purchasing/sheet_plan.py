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

from app.core.cutting.cutter import Cutter
from app.core.cutting.effort import Effort
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.warm_start import KnownLayout
from app.core.cutting.model import NoPlanError, SheetOffer, Wanted
from app.core.length import show_size
from app.core.money import Currency
from app.core.planning.requirements import Demand, Peg
from app.models import Paper
from app.services.planning.cut_plans import known_layouts, plan_paper, shared_sheets, sheets_used
from app.services.planning.requirements import Needs, PieceNeed
from app.services.planning.sheet_sources import ByKey, sheet_offers, sheets_said
from app.services.planning.supply import Coming
from app.services.purchasing.buy_lines import (
    BuyLine,
    OtherWay,
    SheetCut,
    comes_after,
    comes_late,
    line_for,
)
from app.services.stock.ledger import item_key

Planned = tuple[BatchPlan, list[SheetCut]]
WAY_STEPS, MOST_WAYS = 50_000, 4
"""For each of so many other ways."""


@dataclass(frozen=True)
class Ask:
    """What the list is asked: the day, the money, the effort a paper's plan is worth; whether
    kinds of pieces are cut apart, and whether to price other ways."""

    on: date
    money: Currency
    effort: Effort
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
    states: Mapping[str, str]
    """Each source's state, by its key: in stock, on its way, drafted or to buy."""
    coming: Mapping[str, Coming]
    """What is on its way or drafted, by the key of its source."""
    items: Mapping[str, str]
    """Which stock sheet each source has, by its key."""
    late: tuple[str, ...] = ()

    @property
    def supply_said(self) -> str:
        """Where the sheets that are cut come from, in a sentence."""
        counts: dict[str, int] = {}
        for cut in self.cuts:
            state = self.states[cut.source]
            counts[state] = counts.get(state, 0) + cut.sheets
        return sheets_said(counts)


@dataclass(frozen=True)
class _Question:
    """What is asked of one paper's plan, and where each sheet comes from."""

    wanted: tuple[Wanted, ...]
    demands: tuple[tuple[int, Demand], ...]
    """With the days until the bench begins with each, what it begins with first."""
    offers: tuple[SheetOffer, ...]
    by_key: ByKey
    known: tuple[KnownLayout, ...]
    """The layouts by which sheets were bought before."""
    cutter: Cutter


def paper_plan(
    found: Needs, rows: Sequence[PieceNeed], ask: Ask, troubles: list[str]
) -> PaperPlan | None:
    """Plan one paper; what cannot be planned is added to the troubles."""
    paper = rows[0].paper
    offers, by_key = sheet_offers(found, paper, ask.on, ask.money)
    asked = _Question(
        tuple(need.as_wanted() for need in rows), _by_urgency(found, rows, ask.on),
        tuple(offers), by_key, known_layouts(paper.cut_plan, found.shop.cutter), found.shop.cutter,
    )  # fmt: skip
    planned = _in_time(found, asked, ask)
    if planned is None:
        troubles.append(_why_no_plan(paper, offers))
        return None
    plan, cuts = planned
    lines = _sheet_lines(found, paper, plan, cuts, by_key, ask)
    price = bool(lines) and ask.with_other_ways
    return PaperPlan(
        paper, tuple(rows), plan, tuple(cuts), tuple(lines),
        sum((line.cost for line in lines), Decimal(0)),
        _otherwise(found, asked, ask) if price and len(rows) > 1 else None,
        _other_ways(asked, ask) if price else (),
        {key: source.label for key, source in by_key.items()},
        {key: source.state for key, source in by_key.items()},
        {key: source.coming for key, source in by_key.items() if source.coming},
        {key: item_key(source.stock_sheet) for key, source in by_key.items()},
        _late_sheets(found, paper, cuts, by_key),
    )  # fmt: skip


def _by_urgency(
    found: Needs, rows: Sequence[PieceNeed], on: date
) -> tuple[tuple[int, Demand], ...]:
    """The demands for all pieces, what the bench begins with first, with the days until then."""
    days = [(comes_late(found, [d], on), d) for need in rows for d in need.demands]
    return tuple(sorted(days, key=lambda row: (row[0], row[1].by, row[1].link)))


def _in_time(found: Needs, asked: _Question, ask: Ask) -> Planned | None:
    """The cheapest plan found whose sheets come in time; where none does, the cheapest of all.

    Where that is not the cheapest of all, what nobody can deliver in time is tried to be cut
    from what is here before anything else is planned.
    """
    first, in_time = _rounds(None, found, asked, ask)
    if first is not None and in_time is first:
        return first
    begun = _what_is_here_first(asked, ask)
    other = _rounds(begun, found, asked, ask) if begun else (None, None)
    timely = [planned for planned in (in_time, other[1]) if planned is not None]
    return min(timely, key=lambda planned: planned[0].spend, default=first or other[0])


def _rounds(
    begun: BatchPlan | None, found: Needs, asked: _Question, ask: Ask
) -> tuple[Planned | None, Planned | None]:
    """The first plan, and the first in time as offers are left out that come too late."""
    first: Planned | None = None
    tried = asked.offers
    while tried:
        try:
            plan = _plan_after(begun, asked, tried, ask)
        except NoPlanError:
            break
        planned = (plan, _sheet_cuts(plan, asked, tried, ask.on))
        first = first or planned
        late = _come_late(found, planned[1], asked.by_key, ask.on)
        if not late:
            return first, planned
        to_leave = {key for key in late if asked.by_key[key].offer is not None}
        if not to_leave:
            break
        tried = tuple(offer for offer in tried if offer.key not in to_leave)
    return first, None


def _come_late(found: Needs, cuts: Sequence[SheetCut], by_key: ByKey, on: date) -> set[str]:
    """The sources whose sheets come too late for a demand that hangs on them."""
    return {
        cut.source
        for cut in cuts
        if cut.pegs
        and by_key[cut.source].days(on) > comes_late(found, [peg.demand for peg in cut.pegs], on)
        and not by_key[cut.source].here
    }


def _what_is_here_first(asked: _Question, ask: Ask) -> BatchPlan | None:
    """A plan from the sheets here for the demands that no supplier can deliver for in time.

    None where there are none such, or the sheets here do not do.
    """
    soonest = min((s.days(ask.on) for s in asked.by_key.values() if not s.here), default=0)
    hurried: dict[str, int] = {}
    for days, demand in asked.demands:
        if days < soonest:
            hurried[demand.thing] = hurried.get(demand.thing, 0) + demand.quantity
    here = tuple(offer for offer in asked.offers if asked.by_key[offer.key].here)
    if not here or not hurried:
        return None
    early = tuple(replace(w, count=hurried.get(w.key, 0)) for w in asked.wanted)
    try:
        return plan_paper(early, here, asked.cutter, ask.effort, asked.known, apart=ask.apart)
    except NoPlanError:
        return None


def _plan_after(
    begun: BatchPlan | None, asked: _Question, offers: tuple[SheetOffer, ...], ask: Ask
) -> BatchPlan:
    """The plan for everything, after what is cut already where something is."""
    wanted, left = asked.wanted, offers
    if begun is not None:
        used = sheets_used(begun, offers)
        left = tuple(replace(o, on_hand=o.on_hand - used.get(o.key, 0)) for o in offers)
        cut = {w.key: sum(u.counts.get(w.key, 0) * u.repeats for u in begun.uses) for w in wanted}
        wanted = tuple(replace(w, count=max(w.count - cut[w.key], 0)) for w in wanted)
    plan = plan_paper(wanted, left, asked.cutter, ask.effort, asked.known, apart=ask.apart)
    return replace(plan, uses=begun.uses + plan.uses) if begun is not None else plan


def _sheet_cuts(
    plan: BatchPlan, asked: _Question, offers: Sequence[SheetOffer], on: date
) -> list[SheetCut]:
    """What is cut from which source: what the bench needs first, from what is there soonest."""
    demands = [demand for _, demand in asked.demands]
    waiting = {w.key: [d for d in demands if d.thing == w.key] for w in asked.wanted}
    soon = {offer.key: asked.by_key[offer.key].days(on) for offer in offers}
    shares = shared_sheets(plan, offers, soon, demands)
    cuts = []
    for share in sorted(shares, key=lambda share: soon[share.source]):
        pegs = [
            peg
            for key, count in share.use.counts.items()
            for peg in _serve(waiting[key], count * share.sheets)
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
        coming = by_key[cut.source].coming
        for peg in cut.pegs if coming else ():
            starts = found.times.start(peg.demand)
            if coming and coming.expected_on > starts:
                said[comes_after(paper.name, coming, starts, peg.demand)] = None
    return tuple(said)


def _why_no_plan(paper: Paper, offers: Sequence[SheetOffer]) -> str:
    if not any(offer.breaks for offer in offers):
        return (
            f"{paper.name}: more is needed than there is, and no supplier's offer is on record. "
            "Add an offer to one of its sheets."
        )
    return (
        f"{paper.name}: the sheets that have an offer are too small for a piece that is needed. "
        "Add an offer for the size that fits."
    )


def _otherwise(found: Needs, asked: _Question, ask: Ask) -> Decimal | None:
    """What the same list takes with kinds apart, or together where it is asked apart."""
    planned = _in_time(found, asked, replace(ask, apart=not ask.apart))
    return ask.amount(planned[0].spend) if planned else None


def _other_ways(asked: _Question, ask: Ask) -> tuple[OtherWay, ...]:
    """The same list from one size alone, for each size that is offered."""
    here = [offer for offer in asked.offers if offer.limit == 0]
    sizes = dict.fromkeys(offer.sheet for offer in asked.offers if offer.breaks)
    ways: list[OtherWay] = []
    for sheet in list(sizes)[:MOST_WAYS] if len(sizes) > 1 else ():
        only = [offer for offer in asked.offers if offer.breaks and offer.sheet == sheet]
        try:
            plan = plan_paper(
                asked.wanted, (*here, *only), asked.cutter, WAY_STEPS, apart=ask.apart
            )
            ways.append(OtherWay(sheet.name, ask.amount(plan.spend), None))
        except NoPlanError:
            ways.append(OtherWay(sheet.name, None, "too small for a piece, or its grain bars it"))
    return tuple(sorted(ways, key=lambda way: (way.spend is None, way.spend or 0)))
