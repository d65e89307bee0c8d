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

from app.core.cutting.effort import Effort
from app.core.cutting.model import NoPlanError
from app.core.money import Currency, currency
from app.core.planning.requirements import Demand, Peg
from app.services.planning.capacity import too_much_for_the_bench
from app.services.planning.cut_plans import keep_cut_plan, plan_data
from app.services.planning.paper_problems import paper_question
from app.services.planning.plans import answer_of
from app.services.planning.requirements import Needs, needs, pieces_wanted
from app.services.purchasing.buy_lines import BuyLine, Enough, goods_to_buy
from app.services.purchasing.drafts import DraftLine, draft_lines, drafted_cost
from app.services.purchasing.sheet_plan import PaperPlan, paper_plan, why_no_plan


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

    @property
    def lines(self) -> list[BuyLine]:
        """All lines, the most pressing first."""
        rows = [line for plan in self.papers for line in plan.lines] + list(self.materials)
        return sorted(rows, key=lambda line: (line.order_by, line.name))

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
    plans, unplanned = [], []
    for _, rows in pieces_wanted(found):
        asked = paper_question(found, rows, on, Effort.LIVE, apart=apart)
        try:
            answer = answer_of(session, asked.problem)
        except NoPlanError:
            unplanned.append(why_no_plan(asked))
        else:
            plans.append(paper_plan(found, asked, answer, on, money))
    late = tuple(word for plan in plans for word in plan.late)
    goods = goods_to_buy(found, on)
    plans.sort(key=lambda plan: plan.paper.name)
    return BuyList(
        found, money, tuple(plans), goods.lines, goods.enough,
        (*found.problems, *unplanned, *goods.problems),
        too_much_for_the_bench(found.times, on), late + goods.late,
        tuple(draft_lines(found, plans, on)),
    )  # fmt: skip


def keep_cut_plans(session: Session, found: BuyList) -> None:
    """Let each paper keep the plan by which its sheets are bought now.

    The next list begins from it, so that what is bought is enough and little changes. A list
    that buys nothing of a paper, for some of the markets say, leaves what was kept.
    """
    for plan in found.papers:
        if plan.lines or plan.paper.cut_plan is None:
            data = plan_data(plan.plan, found.needs.shop.cutter)
            keep_cut_plan(session, plan.paper, data)


def demands_of(pegs: Iterable[Peg]) -> list[tuple[Demand, int]]:
    """The reasons behind a line, one a demand, by date."""
    merged: dict[tuple[str, date], tuple[Demand, int]] = {}
    for peg in pegs:
        key = (peg.demand.link, peg.demand.by)
        demand, quantity = merged.get(key, (peg.demand, 0))
        merged[key] = (demand, quantity + peg.quantity)
    return sorted(merged.values(), key=lambda row: row[0].by)
