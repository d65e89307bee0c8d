"""What the shop makes for itself before it makes its journals, and what that takes in its turn.

Things are planned in the order in which one is made of another, so that everything that wants a
thing is known before it is netted. What is short of one that is made here becomes a making, with
the day to begin it; its parts are wanted by then, like those of a journal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.cutting.model import NoPlanError
from app.core.money import currency
from app.core.planning.capacity import Job
from app.core.planning.making import makings
from app.core.planning.requirements import Demand, Peg
from app.core.planning.sharing import SheetCut
from app.models import Material, Recipe, StockSheet
from app.services.designs.made_here import is_own
from app.services.planning.paper_problems import paper_question
from app.services.planning.plans import answer_of
from app.services.planning.recipe_needs import minutes_for, taken_by
from app.services.planning.requirements import Needs, PieceNeed, pieces_wanted
from app.services.purchasing.buy_lines import BuyLine, GoodsToBuy, goods_to_buy
from app.services.purchasing.sheet_plan import PaperPlan, paper_plan, why_no_plan
from app.services.stock.ledger import item_key
from app.services.stock.recipes import node_of, way_of


@dataclass(frozen=True)
class MakeLine:
    """So many times a recipe, begun by a day, for ``wanted`` good ones and those who want them."""

    item: StockSheet | Material
    name: str
    recipe: Recipe
    times: int
    wanted: int
    begin_by: date
    late: bool
    minutes: Fraction
    pegs: tuple[Peg, ...]
    bench_day: date
    """The last day for its work: that by which to begin, or today where that is past."""

    @property
    def begun(self) -> int:
        """How much is begun with, before anything is lost."""
        return self.times * self.recipe.makes

    @property
    def job(self) -> Job:
        """Its work at the bench."""
        waits = max(self.recipe.days, 1)
        done = self.bench_day + timedelta(days=waits)
        return Job(f"making {item_key(self.item)} {self.begin_by}", done, self.minutes, waits)


class Working:
    """The list in the making: what is wanted so far, and what of it is planned."""

    def __init__(self, session: Session, found: Needs, on: date, *, apart: bool) -> None:
        self.session, self.needs, self.on, self.apart = session, found, on, apart
        self.plans: list[PaperPlan] = []
        self.unplanned: list[str] = []
        self.goods: list[GoodsToBuy] = []
        self.makings: list[MakeLine] = []
        self._planned: set[str] = set()

    def plan(self, node: str) -> None:
        """Plan a paper or a material that is made here, all that wants it being known."""
        self._planned.add(node)
        for paper, rows in pieces_wanted(self.needs):
            if node_of(paper) == node:
                self._plan_paper(rows)
        mine = tuple(demand for demand in self.needs.material_demands if demand.thing == node)
        if mine:
            self._plan_goods(mine)

    def plan_the_rest(self) -> None:
        """Plan everything of which nothing is made here."""
        for paper, rows in pieces_wanted(self.needs):
            if node_of(paper) not in self._planned:
                self._plan_paper(rows)
        self._plan_goods(
            tuple(d for d in self.needs.material_demands if d.thing not in self._planned)
        )

    def _plan_paper(self, rows: list[PieceNeed]) -> None:
        asked = paper_question(self.needs, rows, self.on, Effort.LIVE, apart=self.apart)
        try:
            answer = answer_of(self.session, asked.problem)
        except NoPlanError:
            self.unplanned.append(why_no_plan(asked))
            return
        money = currency(self.needs.shop.currency)
        plan = paper_plan(self.needs, asked, answer, self.on, money)
        self.plans.append(plan)
        for line in plan.made:
            # As many sheets as are cut: the packs of an offer may hold more.
            # Of a roll it is the length they take.
            by_key = answer.problem.by_key
            wanted = [
                row
                for cut in line.cuts
                for source in (by_key[cut.source],)
                for row in self._by_day(
                    cut, source.offer.sheet.height_nm if source.what == "length" else 1
                )
            ]
            self._make(line, wanted)

    def _plan_goods(self, demands: tuple[Demand, ...]) -> None:
        mine = replace(self.needs, material_demands=demands)
        found = goods_to_buy(mine, self.on)
        self.goods.append(
            replace(found, lines=tuple(line for line in found.lines if not is_own(line.offer)))
        )
        for line in found.lines:
            if is_own(line.offer):
                self._make(line, [(peg.quantity, (peg,)) for peg in line.pegs])

    def _by_day(self, cut: SheetCut, each: int) -> list[tuple[int, tuple[Peg, ...]]]:
        """So many sheets of a layout for the pieces wanted first, and so on, none too late.

        A sheet is ``each`` base units of what is made.

        Of every kind of piece a sheet gives its share, so the kind of which most is wanted by a
        day says how many sheets are.
        """
        start = self.needs.times.start
        of_kind: dict[str, int] = {}
        for peg in cut.pegs:
            of_kind[peg.demand.thing] = of_kind.get(peg.demand.thing, 0) + peg.quantity
        so_far, sheets = dict.fromkeys(of_kind, 0), 0
        found = []
        for day in sorted({start(peg.demand) for peg in cut.pegs}):
            mine = tuple(peg for peg in cut.pegs if start(peg.demand) == day)
            for peg in mine:
                so_far[peg.demand.thing] += peg.quantity
            share = max(Fraction(so_far[kind], total) for kind, total in of_kind.items())
            by_then = int(-(-cut.sheets * each * share // 1))
            found.append((by_then - sheets, mine))
            sheets = by_then
        return found

    def _make(self, line: BuyLine, wanted: Sequence[tuple[int, tuple[Peg, ...]]]) -> None:
        """Day by day, so many by when the bench wants them; what is over stays for later."""
        key = item_key(line.item)
        recipe, start = self.needs.recipes[key], self.needs.times.start
        dated = [(n, min(start(peg.demand) for peg in pegs), pegs) for n, pegs in wanted]
        short = [Peg(Demand(key, n, day, "", ""), n) for n, day, _ in dated]
        for making in makings(key, way_of(recipe), short):
            days = {peg.demand.by for peg in making.pegs}
            whose = tuple(peg for _, day, pegs in dated if day in days for peg in pegs)
            many = sum(peg.quantity for peg in making.pegs)
            self._begin(line, recipe, making.lots, many, making.begin_by, whose)

    def _begin(
        self, line: BuyLine, recipe: Recipe, times: int, wanted: int, begin_by: date,
        pegs: tuple[Peg, ...],
    ) -> None:  # fmt: skip
        self.makings.append(
            MakeLine(
                line.item, line.name, recipe, times, wanted, begin_by, begin_by < self.on,
                minutes_for(recipe, times, self.needs.shop), pegs, max(begin_by, self.on),
            )
        )  # fmt: skip
        self.needs = self.needs.with_more(*taken_by(recipe, times, begin_by, line.name))
