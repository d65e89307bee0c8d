"""The buy list: sheets in whole packs from the cutting plan, and packs of everything else.

Each line says what it costs, from whom, by when it must be ordered, and for what. Suppliers who
can still deliver in time are asked first; where none can, the cheapest is taken and the line
says that it is late.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy.orm import Session

from app.core.money import Currency, currency
from app.core.planning.requirements import Demand, Peg
from app.models import Supplier
from app.services.planning.capacity import goods_under_way, too_much_for_the_bench
from app.services.planning.cut_plans import keep_cut_plan, plan_data
from app.services.planning.requirements import Needs, needs
from app.services.purchasing.buy_lines import BuyLine, Enough
from app.services.purchasing.drafts import DraftLine, draft_lines, drafted_cost
from app.services.purchasing.makings import MakeLine, Working
from app.services.purchasing.sheet_plan import PaperPlan
from app.services.stock.recipes import order_of


@dataclass(frozen=True)
class FromOne:
    """All that is to be bought from one supplier: the first day to order by, things, money."""

    supplier: Supplier
    order_by: date
    things: int
    packs: int
    cost: Decimal


@dataclass(frozen=True)
class BuyList:
    """Everything to buy, and why."""

    needs: Needs
    currency: Currency
    papers: tuple[PaperPlan, ...]
    materials: tuple[BuyLine, ...]
    enough: tuple[Enough, ...]
    problems: tuple[str, ...]
    overfull: str | None
    """Where the bench has too few hours, in words."""
    late: tuple[str, ...] = ()
    """What is on its way and comes too late, in words."""
    drafts: tuple[DraftLine, ...] = ()
    """What is drafted and has to be sent."""
    makings: tuple[MakeLine, ...] = ()
    """What the shop has to make for itself first."""

    @property
    def lines(self) -> list[BuyLine]:
        """All lines, the most pressing first."""
        rows = [line for plan in self.papers for line in plan.lines] + list(self.materials)
        return sorted(rows, key=lambda line: (line.order_by, line.name))

    @property
    def by_supplier(self) -> list[FromOne]:
        """The same lines by whom they are bought from, the most pressing first."""
        theirs: dict[int, list[BuyLine]] = {}
        for line in self.lines:
            theirs.setdefault(line.offer.supplier_id, []).append(line)
        return [
            FromOne(
                lines[0].offer.supplier, lines[0].order_by, len({line.name for line in lines}),
                sum(line.packs for line in lines), sum((line.cost for line in lines), Decimal(0)),
            )
            for lines in theirs.values()
        ]  # fmt: skip

    @property
    def wanted(self) -> dict[str, int]:
        """What all of it takes of each thing, wherever it comes from, in base units by item key."""
        found: dict[str, int] = {}
        for demand in self.needs.material_demands:
            found[demand.thing] = found.get(demand.thing, 0) + demand.quantity
        for plan in self.papers:
            for cut in plan.cuts:
                key = plan.items[cut.source]
                found[key] = found.get(key, 0) + cut.sheets
        return found

    @property
    def spend(self) -> Decimal:
        """What all of it costs."""
        return sum((line.cost for line in self.lines), Decimal(0))

    @property
    def drafted(self) -> Decimal:
        """What the drafts cost that are still to be sent."""
        return drafted_cost(self.drafts)


def buy_list(
    session: Session,
    on: date,
    market_ids: Collection[int] | None = None,
    *,
    apart: bool = False,
) -> BuyList:
    """Work out what to buy for the open orders, the chosen markets and the shelf.

    Pieces of one paper share its sheets, unless they are to be cut ``apart``.
    """
    found = needs(session, on, market_ids)
    money = currency(found.shop.currency)
    working = Working(session, found, on, apart=apart)
    for node in order_of(found.recipes):
        working.plan(node)
    working.plan_the_rest()
    found = working.needs
    plans, goods = working.plans, working.goods
    late = tuple(word for plan in plans for word in plan.late)
    more = [line.job for line in working.makings] + goods_under_way(found.coming, on)
    plans.sort(key=lambda plan: plan.paper.name)
    makings = tuple(sorted(working.makings, key=lambda line: (line.begin_by, line.name)))
    return BuyList(
        found, money, tuple(plans), tuple(line for one in goods for line in one.lines),
        tuple(sorted((row for one in goods for row in one.enough), key=lambda r: r.material.name)),
        (*found.problems, *working.unplanned, *(word for one in goods for word in one.problems)),
        too_much_for_the_bench(found.times, on, more),
        late + tuple(word for one in goods for word in one.late),
        tuple(draft_lines(found, plans, on)), makings,
    )  # fmt: skip


def keep_cut_plans(session: Session, found: BuyList) -> None:
    """Let each paper keep the plan by which its sheets are bought now.

    The next list begins from it, so that what is bought is enough and little changes. A list
    that buys nothing of a paper, for some of the markets say, leaves what was kept.
    """
    for plan in found.papers:
        if plan.lines or plan.paper.cut_plan is None:
            data = plan_data(plan.plan, plan.answer.problem.cutter)
            keep_cut_plan(session, plan.paper, data)


def demands_of(pegs: Iterable[Peg]) -> list[tuple[Demand, int]]:
    """The reasons behind a line, one a demand, by date."""
    merged: dict[tuple[str, date], tuple[Demand, int]] = {}
    for peg in pegs:
        key = (peg.demand.link, peg.demand.by)
        demand, quantity = merged.get(key, (peg.demand, 0))
        merged[key] = (demand, quantity + peg.quantity)
    return sorted(merged.values(), key=lambda row: row[0].by)
