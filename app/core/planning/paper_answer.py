"""The answer to one paper's question: a plan whose sheets come in time, if there is one.

The plan looks at money first. Offers that come too late for what they would be bought for are left
out as long as the rest can do it; where that is not the cheapest of all, what nobody can deliver
in time is tried to be cut from what is here before anything else is planned. Beside the plan
stand its rivals (kinds the other way, each size alone); none of them costs less than the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from app.core.cutting.effort import Effort, Progress
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.planner import plan_apart, plan_as_known, plan_batch
from app.core.cutting.many_sheets.warm_start import KnownLayout
from app.core.cutting.model import TOO_FEW, NoPlanError, SheetOffer, Wanted
from app.core.planning.paper_problem import TO_BUY, PaperProblem, SheetSource
from app.core.planning.roll_lengths import Lengths, least_spend, plan_rolls
from app.core.planning.sharing import SheetCut, sheet_cuts, sheets_used
from app.language import say

WAY_STEPS, MOST_WAYS, MOST_DAYS = 50_000, 4, 3
"""For each of so many other ways."""


@dataclass(frozen=True)
class Rival:
    """Another way to cut the same, and the money it takes; None where it will not do."""

    name: str
    spend: int | None
    late: bool = False
    """Whether its sheets would come too late, while those of the plan do not."""


@dataclass(frozen=True)
class PaperAnswer:
    """A plan for a paper's question, without the offers ``left_out`` because they come too late.

    ``otherwise`` is another way to cut the same: with kinds apart, or together where they are
    apart; None where that was not asked or cannot be. Money is in minor units. Of what is off a
    roll ``problem`` has sheets of the ``lengths`` it is cut in.
    """

    problem: PaperProblem
    plan: BatchPlan
    left_out: frozenset[str] = frozenset()
    otherwise: Rival | None = None
    rivals: tuple[Rival, ...] = ()
    lengths: Lengths = field(default_factory=dict)

    @property
    def sources(self) -> tuple[SheetSource, ...]:
        """The sources that the plan was made from."""
        return tuple(s for s in self.problem.sources if s.offer.key not in self.left_out)

    @property
    def offers(self) -> tuple[SheetOffer, ...]:
        """The same as the planner wants them."""
        return tuple(source.offer for source in self.sources)

    @property
    def cuts(self) -> tuple[SheetCut, ...]:
        """What is cut from which source, and for which demands."""
        return tuple(sheet_cuts(self.plan, self.problem, self.sources))

    @property
    def sheets_by_state(self) -> dict[str, int]:
        """Sheets cut, by whether they are in stock, on their way, drafted or to buy."""
        counts: dict[str, int] = {}
        for cut in self.cuts:
            state = self.problem.by_key[cut.source].state
            counts[state] = counts.get(state, 0) + cut.sheets
        return counts

    @property
    def worth(self) -> Fraction:
        """What the sheets cut are worth, each as much as where it comes from says."""
        return sum(
            (cut.sheets * self.problem.by_key[cut.source].offer.value for cut in self.cuts),
            Fraction(0),
        )


def answer_paper(problem: PaperProblem, progress: Progress | None = None) -> PaperAnswer:
    """Work a question out. Raises :class:`NoPlanError` where there is no plan."""
    if not any(source.by_length for source in problem.sources):
        return _Answering(problem, progress).answer()
    return _answer_rolls(problem)


def _answer_rolls(asked: PaperProblem) -> PaperAnswer:
    """A plan with lengths off a roll, without offers that come too late where the rest can do it.

    How little one might cost is known by area alone.
    """
    first: PaperAnswer | None = None
    left_out: frozenset[str] = frozenset()
    while True:
        sources = tuple(s for s in asked.sources if s.offer.key not in left_out)
        try:
            found = plan_rolls(replace(asked, sources=sources))
        except NoPlanError:
            if first is None:
                raise
            return first
        bound = min(least_spend(asked), found.plan.spend)
        answer = PaperAnswer(
            found.problem, replace(found.plan, bound=bound), left_out, lengths=found.lengths
        )
        late = {key for key in come_late(answer) if found.problem.by_key[key].state == TO_BUY}
        if not late:
            return answer
        first, left_out = first or answer, left_out | late


def come_late(found: PaperAnswer) -> set[str]:
    """The sources whose sheets come too late for a demand that hangs on them."""
    days = {(row.demand.by, row.demand.link): row.days for row in found.problem.demands}
    return {
        cut.source
        for cut in found.cuts
        for source in (found.problem.by_key[cut.source],)
        if cut.pegs
        and not source.here
        and source.days > min(days[peg.demand.by, peg.demand.link] for peg in cut.pegs)
    }


class _Answering:
    def __init__(self, problem: PaperProblem, progress: Progress | None) -> None:
        self.problem, self.progress = problem, progress
        self.refusal = NoPlanError(say(TOO_FEW))
        self.cut_short = False
        """Whether any plan on the way was."""
        self.begun: BatchPlan | None = None
        """What is cut from what is here before anything else, where that was of use."""

    def answer(self) -> PaperAnswer:
        """The plan in time and its rivals, from all sheets to be had; told where cut short."""
        found = self._in_time()
        if found.plan.bought:
            found = self._with_rivals(found)
        return replace(found, plan=replace(found.plan, cut_short=self.cut_short))

    def _with_rivals(self, found: PaperAnswer) -> PaperAnswer:
        """The ways beside a plan, and the plan no dearer than those of them that come in time."""
        timely = not come_late(found)
        ways = [(name, self._try(only, effort=WAY_STEPS)) for name, only in self._sizes_alone()]
        ways.append(("", self._try(apart=not self.problem.apart) if self._several else None))

        def rival(name: str, plan: BatchPlan | None) -> Rival:
            late = timely and plan is not None and bool(come_late(self._of(plan)))
            return Rival(name, None if plan is None else plan.spend, late)

        *rivals, otherwise = [rival(name, plan) for name, plan in ways]
        plans = [
            plan
            for (name, plan), beside in zip(ways, (*rivals, otherwise), strict=True)
            if plan is not None and not beside.late and (name or not self.problem.apart)
        ]
        best = min(plans, key=lambda plan: plan.spend, default=found.plan)
        if best.spend < found.plan.spend:
            found = self._no_dearer(found, best, timely=timely)
        rivals.sort(key=lambda rival: (rival.spend is None, rival.spend or 0))
        return replace(
            found, rivals=tuple(rivals), otherwise=None if otherwise.spend is None else otherwise
        )

    def _of(self, plan: BatchPlan) -> PaperAnswer:
        """A plan from all sheets to be had, as an answer."""
        return PaperAnswer(self.problem, plan)

    @property
    def _several(self) -> bool:
        return len(self.problem.wanted) > 1

    def _no_dearer(self, found: PaperAnswer, best: BatchPlan, *, timely: bool) -> PaperAnswer:
        """A plan that costs no more than a rival that turned out cheaper: begun from it."""
        start = tuple(KnownLayout(use.layout, use.repeats) for use in best.uses)
        again = self._plan_after(self.begun, self.problem.offers, start=start)
        late = timely and come_late(self._of(again))
        taken = best if late or again.spend > best.spend else again
        return self._of(replace(taken, bound=min(found.plan.bound, taken.spend)))

    def _in_time(self) -> PaperAnswer:
        """The cheapest plan found whose sheets come in time; where none does, the cheapest.

        What no plan costs less than is known from the first one, which was free to choose.
        """
        first, in_time = self._rounds(None)
        if first is not None and in_time is first:
            return first
        ways: list[tuple[BatchPlan | None, PaperAnswer | None]] = [
            (None, in_time), (None, self._as_bought()), (None, first),
        ]  # fmt: skip
        for begun in self._here_first():
            other, timely = self._rounds(begun)
            ways += [(begun, timely), (begun, other)]
        known = [(begun, found) for begun, found in ways if found is not None]
        if not known:
            raise self.refusal
        timely_ones = [way for way in known if not come_late(way[1])]
        self.begun, best = min(timely_ones, key=lambda way: way[1].plan.spend, default=known[0])
        bound = min(first.plan.bound, best.plan.spend) if first else 0
        return replace(best, plan=replace(best.plan, bound=bound))

    def _as_bought(self) -> PaperAnswer | None:
        """The plan that sheets were bought by, where it does and comes in time."""
        problem = self.problem
        if problem.apart or not problem.start:
            return None
        plan = plan_as_known(problem.wanted, problem.offers, problem.cutter, problem.start)
        found = PaperAnswer(problem, plan) if plan is not None else None
        return None if found is None or come_late(found) else found

    def _rounds(self, begun: BatchPlan | None) -> tuple[PaperAnswer | None, PaperAnswer | None]:
        """The first plan, and the first in time as offers are left out that come too late."""
        first: PaperAnswer | None = None
        left_out: frozenset[str] = frozenset()
        while len(left_out) < len(self.problem.sources):
            found = PaperAnswer(self.problem, BatchPlan((), (), 0), left_out)
            try:
                found = replace(found, plan=self._plan_after(begun, found.offers))
            except NoPlanError as refusal:
                self.refusal = refusal
                break
            first = first or found
            late = come_late(found)
            if not late:
                return first, found
            to_leave = {key for key in late if self.problem.by_key[key].state == TO_BUY}
            if not to_leave:
                break
            left_out |= to_leave
        return first, None

    def _here_first(self) -> Iterator[BatchPlan]:
        """Plans from the sheets here for what is wanted before a supplier can deliver.

        One for each day on which somebody could, as far as there are such demands and the sheets
        here do for them.
        """
        here = [source.offer for source in self.problem.sources if source.here]
        days = sorted({s.days for s in self.problem.sources if s.state == TO_BUY})
        seen: list[dict[str, int]] = [{}]
        for soonest in days[:MOST_DAYS] if here else ():
            hurried: dict[str, int] = {}
            for row in self.problem.demands:
                if row.days < soonest:
                    thing = row.demand.thing
                    hurried[thing] = hurried.get(thing, 0) + row.demand.quantity
            if hurried in seen:
                continue
            seen.append(hurried)
            early = [replace(w, count=hurried.get(w.key, 0)) for w in self.problem.wanted]
            try:
                yield self._plan(here, early)
            except NoPlanError:
                continue

    def _plan_after(
        self, begun: BatchPlan | None, offers: Sequence[SheetOffer], **how: Any
    ) -> BatchPlan:
        """The plan for everything, after what is cut already where something is."""
        wanted = self.problem.wanted
        if begun is None:
            return self._plan(offers, wanted, **how)
        used = sheets_used(begun, offers)
        left = [replace(o, on_hand=o.on_hand - used.get(o.key, 0)) for o in offers]
        cut = {w.key: sum(u.counts.get(w.key, 0) * u.repeats for u in begun.uses) for w in wanted}
        rest = [replace(w, count=max(w.count - cut[w.key], 0)) for w in wanted]
        plan = self._plan(left, rest, **how)
        return replace(plan, uses=begun.uses + plan.uses)

    def _plan(
        self,
        offers: Sequence[SheetOffer],
        wanted: Sequence[Wanted],
        *,
        start: Sequence[KnownLayout] = (),
        effort: Effort | int | None = None,
        apart: bool | None = None,
    ) -> BatchPlan:
        problem = self.problem
        effort = effort or problem.effort
        if problem.apart if apart is None else apart:
            plan = plan_apart(wanted, offers, problem.cutter, effort, self.progress)
        else:
            known = start or problem.start
            plan = plan_batch(wanted, offers, problem.cutter, effort, self.progress, known)
        self.cut_short = self.cut_short or plan.cut_short
        return plan

    def _sizes_alone(self) -> Iterator[tuple[str, list[SheetOffer]]]:
        """Each size that is offered with what is here, where several are offered."""
        offers = self.problem.offers
        sizes = dict.fromkeys(offer.sheet for offer in offers if offer.breaks)
        for sheet in list(sizes)[:MOST_WAYS] if len(sizes) > 1 else ():
            yield sheet.name, [o for o in offers if o.limit == 0 or (o.breaks and o.sheet == sheet)]

    def _try(self, offers: Sequence[SheetOffer] | None = None, **how: Any) -> BatchPlan | None:
        """Another way to cut the same; None where it will not do."""
        try:
            return self._plan_after(self.begun, offers or self.problem.offers, **how)
        except NoPlanError:
            return None
