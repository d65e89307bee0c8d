"""The buy list: sheets in whole packs from the cutting program, and packs of everything else.

Each line says what it costs, from whom, by when it must be ordered, and for what. Suppliers who
can still deliver in time are asked first; where none can, the cheapest is taken and the line
says that it is late.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from app.core.cutting.cover import (
    CoverPlan,
    NoPlanError,
    SheetOffer,
    Wanted,
    plan_cover,
)
from app.core.length import show_size
from app.core.money import Currency, currency
from app.core.planning.requirements import Demand, Peg
from app.models import Paper, StockSheet
from app.services.buy_lines import (
    BuyLine,
    CutUse,
    Enough,
    OtherWay,
    comes_after,
    comes_late,
    line_for,
    materials_to_buy,
)
from app.services.needs import (
    Needs,
    PieceNeed,
    bench_starts,
    needs,
    pieces_wanted,
    too_much_for_the_bench,
)
from app.services.sheet_sources import ByKey, sheet_offers

PLAN_SECONDS, WAY_SECONDS, MOST_WAYS = 1.0, 0.3, 4
"""A page does not wait longer for a paper's plan, nor for each of so many other ways."""


@dataclass(frozen=True)
class PaperPlan:
    """A paper's list: what is cut from which sheets, on hand or bought, and the other ways."""

    paper: Paper
    needs: tuple[PieceNeed, ...]
    uses: tuple[CutUse, ...]
    from_stock: tuple[CutUse, ...]
    lines: tuple[BuyLine, ...]
    spend: Decimal
    others: tuple[OtherWay, ...]
    sources: Mapping[str, str]
    """Whose each sheet is, in words, by the key of its offer."""
    late: tuple[str, ...] = ()


@dataclass(frozen=True)
class BuyList:
    """Everything to buy, and why."""

    needs: Needs
    currency: Currency
    papers: tuple[PaperPlan, ...]
    materials: tuple[BuyLine, ...]
    enough: tuple[Enough, ...]
    troubles: tuple[str, ...]
    overfull: str | None
    """Where the bench has too few hours, in words."""
    late: tuple[str, ...] = ()
    """What is on its way and comes too late, in words."""

    @property
    def lines(self) -> list[BuyLine]:
        """All lines, the most pressing first."""
        rows = [line for plan in self.papers for line in plan.lines] + list(self.materials)
        return sorted(rows, key=lambda line: (line.order_by, line.name))

    @property
    def spend(self) -> Decimal:
        """What all of it costs."""
        return sum((line.cost for line in self.lines), Decimal(0))


def buy_list(
    session: Session,
    on: date,
    market_ids: Collection[int] | None = None,
    *,
    with_other_ways: bool = False,
) -> BuyList:
    """Work out what to buy for the open orders, the chosen markets and the shelf.

    ``with_other_ways`` prices each paper from each of its sizes alone as well.
    """
    found = needs(session, on, market_ids)
    money = currency(found.shop.currency)
    troubles = list(found.troubles)
    plans = []
    for _, rows in pieces_wanted(found):
        plan = _paper_plan(found, rows, on, money, troubles, with_other_ways=with_other_ways)
        if plan:
            plans.append(plan)
    late = [word for plan in plans for word in plan.late]
    lines, enough = materials_to_buy(found, on, troubles, late)
    plans.sort(key=lambda plan: plan.paper.name)
    return BuyList(
        found, money, tuple(plans), tuple(lines), tuple(enough), tuple(troubles),
        too_much_for_the_bench(found, on), tuple(late),
    )  # fmt: skip


def _paper_plan(
    found: Needs,
    rows: list[PieceNeed],
    on: date,
    money: Currency,
    troubles: list[str],
    *,
    with_other_ways: bool,
) -> PaperPlan | None:
    paper = rows[0].paper
    wanted = [Wanted(need.key, need.piece, need.count) for need in rows]
    offers, by_key = sheet_offers(found, paper, on, money)
    plan = _in_time(found, rows, offers, by_key, wanted, on)
    if plan is None:
        troubles.append(_why_no_plan(paper, offers))
        return None
    uses = _cut_uses(plan, rows)
    lines = _sheet_lines(found, paper, plan, uses, by_key, on, money)
    from_stock = tuple(use for use in uses if use.use.offer.limit == 0)
    spend = sum((line.cost for line in lines), Decimal(0))
    ask = bool(lines) and with_other_ways
    others = _other_ways(found, wanted, offers, money) if ask else ()
    sources = {key: source.label for key, source in by_key.items()}
    late = _late_sheets(found, paper, uses, by_key, on)
    return PaperPlan(
        paper, tuple(rows), tuple(uses), from_stock, tuple(lines), spend, others, sources, late
    )


def _late_sheets(
    found: Needs, paper: Paper, uses: Sequence[CutUse], by_key: ByKey, on: date
) -> tuple[str, ...]:
    """Sheets on their way that come after the bench should begin with them."""
    said: dict[str, None] = {}
    served = _shared_out(uses, by_key, on)
    for use in uses:
        comes_on = by_key[use.use.offer.key].comes_on
        for peg in served[id(use)] if comes_on else ():
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


def _in_time(
    found: Needs,
    rows: Sequence[PieceNeed],
    offers: Sequence[SheetOffer],
    by_key: ByKey,
    wanted: Sequence[Wanted],
    on: date,
) -> CoverPlan | None:
    """The cheapest plan whose sheets come in time; where none does, the cheapest of all.

    Offers that come too late for what they would be bought for are left out, one round after
    another, as long as the rest can do it.
    """
    first: CoverPlan | None = None
    tried = list(offers)
    while tried:
        try:
            plan = plan_cover(wanted, tried, found.shop.cutter, seconds=PLAN_SECONDS)
        except NoPlanError:
            return first
        first = first or plan
        uses = _cut_uses(plan, rows)
        served = _shared_out(uses, by_key, on)
        late = {
            use.use.offer.key
            for use in uses
            if (offer := by_key[use.use.offer.key].offer) is not None
            and served[id(use)]
            and offer.lead_days > comes_late(found, [p.demand for p in served[id(use)]], on)
        }
        if not late:
            return plan
        tried = [offer for offer in tried if offer.key not in late]
    return first


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


def _cut_uses(plan: CoverPlan, rows: Iterable[PieceNeed]) -> list[CutUse]:
    by_key = {need.key: need for need in rows}
    return [CutUse(by_key[use.wanted.key], use) for use in plan.uses]


def _sheet_lines(
    found: Needs,
    paper: Paper,
    plan: CoverPlan,
    uses: Sequence[CutUse],
    by_key: ByKey,
    on: date,
    money: Currency,
) -> list[BuyLine]:
    """One line an offer bought; sheets on hand serve the earliest demands for a piece first."""
    lines: list[BuyLine] = []
    served = _shared_out(uses, by_key, on)
    for buy in plan.buys:
        source = by_key[buy.offer.key]
        stock_sheet, offer = source.stock_sheet, source.offer
        if offer is None:
            continue
        mine = tuple(use for use in uses if use.use.offer.key == buy.offer.key)
        pegs = tuple(peg for use in mine for peg in served[id(use)])
        if not pegs:
            continue
        size = show_size(stock_sheet.width_nm, stock_sheet.height_nm, found.shop.unit)
        cost = Decimal(buy.cost).scaleb(-money.digits)
        lines.append(
            line_for(
                found, stock_sheet, f"{paper.name}, {size}", offer, buy.packs, cost, pegs, on, mine
            )
        )
    return lines


def _shared_out(uses: Sequence[CutUse], by_key: ByKey, on: date) -> dict[int, list[Peg]]:
    """Which demands each use serves: sheets on hand the earliest, then the quickest to come."""

    def quickness(use: CutUse) -> tuple[int, str]:
        source = by_key[use.use.offer.key]
        if source.offer is None:
            days = (source.comes_on - on).days if source.comes_on else -1
        else:
            days = source.offer.lead_days
        return days, use.use.offer.key

    served: dict[int, list[Peg]] = {}
    left: dict[str, list[Demand]] = {}
    for use in sorted(uses, key=quickness):
        need = use.need
        demands = left.setdefault(need.key, sorted(need.demands, key=lambda d: (d.by, d.link)))
        room = use.use.sheets * use.use.cut.best
        pegs = served.setdefault(id(use), [])
        while demands and room > 0:
            demand = demands[0]
            taken = min(demand.quantity, room)
            pegs.append(Peg(demand, taken))
            room -= taken
            if taken == demand.quantity:
                demands.pop(0)
            else:
                demands[0] = replace(demand, quantity=demand.quantity - taken)
    return served


def _other_ways(
    found: Needs,
    wanted: Sequence[Wanted],
    offers: Sequence[SheetOffer],
    money: Currency,
) -> tuple[OtherWay, ...]:
    """The same list from one size alone, for each size that is offered."""
    here = [offer for offer in offers if offer.limit == 0]
    sizes = dict.fromkeys(offer.sheet for offer in offers if offer.breaks)
    ways: list[OtherWay] = []
    for sheet in list(sizes)[:MOST_WAYS] if len(sizes) > 1 else ():
        only = [offer for offer in offers if offer.breaks and offer.sheet == sheet]
        try:
            plan = plan_cover(wanted, [*here, *only], found.shop.cutter, seconds=WAY_SECONDS)
            ways.append(OtherWay(sheet.name, Decimal(plan.spend).scaleb(-money.digits), None))
        except NoPlanError:
            ways.append(OtherWay(sheet.name, None, "too small for a piece, or its grain bars it"))
    return tuple(sorted(ways, key=lambda way: (way.spend is None, way.spend or 0)))


def demands_of(pegs: Iterable[Peg]) -> list[tuple[Demand, int]]:
    """The reasons behind a line, one a demand, by date."""
    merged: dict[tuple[str, date], tuple[Demand, int]] = {}
    for peg in pegs:
        key = (peg.demand.link, peg.demand.by)
        demand, quantity = merged.get(key, (peg.demand, 0))
        merged[key] = (demand, quantity + peg.quantity)
    return sorted(merged.values(), key=lambda row: row[0].by)
