"""A paper's question where some of it is off a roll: rows across it, and the lengths they take.

A length is cut across into rows and each row into pieces, as one tears cloth and then cuts it. So a
row is planned as a sheet as wide as the roll and as high as a piece, at the price of its height,
beside the plain sheets there are. The rows then go into the lengths that are here or on their
way, and what is left of them is bought, each in one length of whole packs.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import ceil

from app.core.cutting.cutter import Cutter
from app.core.cutting.many_sheets.plan import BatchPlan, LayoutUse
from app.core.cutting.many_sheets.planner import plan_apart, plan_batch
from app.core.cutting.model import (
    TOO_FEW,
    Break,
    Buy,
    NoPlanError,
    SheetOffer,
    Wanted,
    supplies,
)
from app.core.cutting.one_sheet.yields import lying_ways
from app.core.cutting.tree import Layout, Part, Placed, joined
from app.core.length import MM, show_size
from app.core.paper import Sheet
from app.core.planning.paper_problem import TO_BUY, PaperProblem, SheetSource
from app.core.planning.rows import filled_rows
from app.language import say

ROW_STEPS = 500_000
"""Work for a plan of rows: half a second of a small computer, at the most."""
MILLS = 1000
"""Money of a plan of rows is in thousandths of a minor unit: a row costs little."""
MOST_PACKS = 60
"""So many whole packs of one offer are weighed against packs of another."""

Lengths = Mapping[str, tuple[int, int]]
"""How long a piece of each roll is planned with, in nanometres, and the packs bought for it."""


def at_lengths(problem: PaperProblem, lengths: Lengths) -> PaperProblem:
    """The question with a sheet of its length in place of each roll; those of none are left out."""
    sources = [
        _piece_of(source, *lengths[source.offer.key]) if source.by_length else source
        for source in problem.sources
        if not source.by_length or source.offer.key in lengths
    ]
    return replace(problem, sources=tuple(sources))


def _piece_of(source: SheetSource, length: int, packs: int) -> SheetSource:
    """A source of one sheet, so long, off its roll."""
    offer = source.offer
    name = show_size(offer.sheet.width_nm, length, source.unit)
    sheet = replace(offer.sheet, name=name, height_nm=length)
    if source.state != TO_BUY:
        piece = replace(offer, sheet=sheet, on_hand=1, value=offer.value * length)
        return replace(source, offer=piece, by_length=False, takes=length)
    price = pack_cost(offer, packs)
    bought = replace(
        offer, sheet=sheet, pack=1, breaks=(Break(1, price),), limit=1, value=Fraction(price)
    )
    return replace(source, offer=bought, by_length=False, takes=packs * offer.pack, packs=packs)


def pack_cost(offer: SheetOffer, packs: int) -> int:
    """What so many packs cost, in minor units."""
    return packs * min(row.price for row in offer.breaks if row.from_packs <= packs)


def cheapest_packs(offer: SheetOffer, least: int) -> tuple[int, int]:
    """The cost of at least so many packs and their number: more may cost less at a break."""
    ways = {max(least, row.from_packs) for row in offer.breaks}
    return min((pack_cost(offer, n), n) for n in ways)


@dataclass
class Length:
    """One length off a roll with the rows that are cut off it."""

    source: SheetSource
    room: int
    """How long it is, trimmed ends taken off."""
    rows: list[LayoutUse] = field(default_factory=list)
    packs: int = 0

    def high(self, kerf: int) -> int:
        """How much of it the rows take, the blade's cuts between them included."""
        return sum(row.layout.height_nm + kerf for row in self.rows) - kerf

    def layout(self, kerf: int) -> Layout:
        """The rows one after another, no longer than they are."""
        sheet = self.source.offer.sheet
        trim, wide = sheet.trim_nm, sheet.width_nm - 2 * sheet.trim_nm
        at, parts = trim, []
        for row in self.rows:
            parts.append(_moved(row.layout.tree, trim, at))
            at += row.layout.height_nm + kerf
        whole = Part(trim, trim, wide, self.high(kerf), "across", tuple(parts))
        if len(parts) == 1:
            whole = parts[0]
        return Layout(sheet.width_nm, self.high(kerf) + 2 * trim, trim, joined(whole))

    def counts(self) -> dict[str, int]:
        """Pieces of each kind in it."""
        found: dict[str, int] = {}
        for row in self.rows:
            for key, n in row.counts.items():
                found[key] = found.get(key, 0) + n
        return found


def _moved(part: Part, x: int, y: int) -> Part:
    """The same part further right and down."""
    piece = part.piece
    if piece is not None:
        piece = Placed(
            piece.name, piece.x_nm + x, piece.y_nm + y, piece.width_nm, piece.height_nm,
            piece.turned,
        )  # fmt: skip
    return Part(
        part.x_nm + x, part.y_nm + y, part.width_nm, part.height_nm, part.cut,
        tuple(_moved(inner, x, y) for inner in part.parts), piece,
    )  # fmt: skip


@dataclass(frozen=True)
class RollPlan:
    """A plan with the lengths its rolls are cut in; ``problem`` has sheets of them."""

    problem: PaperProblem
    plan: BatchPlan
    lengths: Lengths

    @property
    def worth(self) -> Fraction:
        """What the lengths and sheets cut are worth, in minor units."""
        return self.plan.worth_cut(self.problem.offers)


def plan_rolls(problem: PaperProblem) -> RollPlan:
    """The plan for the least money found, of those the least worth of what is cut.

    Raises :class:`NoPlanError` where the sheets and lengths there are do not do.
    """
    found: list[RollPlan] = []
    refused = NoPlanError(say(TOO_FEW))
    for way in _ways(problem):
        try:
            found.append(_Planning(problem, way).plan())
        except NoPlanError as error:
            refused = error
    if not found:
        raise refused
    return min(found, key=lambda plan: (plan.plan.spend, plan.worth))


@dataclass(frozen=True)
class _Way:
    """Rows as if what is here cost nothing, or at what a roll costs; none higher than ``high``.

    ``ends``: with as many rows as lengths of rolls hold that are here and not sold.
    """

    free: bool
    high: int | None = None
    ends: bool = False


def _ways(problem: PaperProblem) -> Iterator[_Way]:
    """What rows may cost, and how high they may be where lengths that are here are short."""
    here = [s for s in problem.sources if s.by_length and s.state != TO_BUY]
    sold = {s.offer.sheet for s in problem.sources if s.by_length and s.state == TO_BUY}
    if sold:
        yield _Way(free=False)
    if sold and any(s.offer.sheet not in sold for s in here):
        yield _Way(free=False, ends=True)
    if here:
        yield _Way(free=True)
        longest = max(s.offer.on_hand - 2 * s.offer.sheet.trim_nm for s in here)
        yield _Way(free=True, high=longest)
        lower = sorted(
            {h for w in problem.wanted for s in here for h in _heights(w, s.offer.sheet)}
        )
        for high in [h for h in lower if h < longest][-3:]:
            yield _Way(free=True, high=high)


def _heights(wanted: Wanted, sheet: Sheet) -> set[int]:
    """How high a piece lies in a row of the roll, each way that it may and fits."""
    wide = sheet.width_nm - 2 * sheet.trim_nm
    return {way.height_nm for way in lying_ways(wanted.piece, sheet) if way.width_nm <= wide}


class _Planning:
    def __init__(self, problem: PaperProblem, way: _Way) -> None:
        self.problem, self.way, self.kerf = problem, way, problem.cutter.kerf_nm
        self.wanted = [w for w in problem.wanted if w.count]
        self.plain = [s for s in problem.sources if not s.by_length]
        self.here: dict[Sheet, list[SheetSource]] = {}
        self.buys: dict[Sheet, list[SheetSource]] = {}
        for source in problem.sources:
            if source.by_length:
                kind = self.buys if source.state == TO_BUY else self.here
                kind.setdefault(source.offer.sheet, []).append(source)

    def plan(self) -> RollPlan:
        """Rows and plain sheets, the rows put into lengths, and all of it as one plan."""
        rows = {key: row for roll in {**self.here, **self.buys} for key, row in self._rows(roll)}
        of_row = {row.sheet: roll for (roll, _), row in rows.items()}
        planned = self._planned(list(rows.values()))
        by_roll: dict[Sheet, list[LayoutUse]] = {}
        plain = []
        for use in planned.uses:
            roll = of_row.get(use.supply.sheet)
            if roll is None:
                plain.append(use)
            else:
                by_roll.setdefault(roll, []).extend([use] * use.repeats)
        lengths = [length for roll, uses in by_roll.items() for length in self._lengths(roll, uses)]
        return self._as_one(planned, plain, lengths)

    def _rows(self, roll: Sheet) -> Iterator[tuple[tuple[Sheet, int], SheetOffer]]:
        """A row of a roll in every height that a piece may lie in, at the price of its height."""
        rate = Fraction(1, MM)
        if not self.way.free and roll in self.buys:
            rate = min(
                Fraction(b.price * MILLS, s.offer.pack)
                for s in self.buys[roll]
                for b in s.offer.breaks
            )
        elif not self.way.free and not self.way.ends:
            return
        heights = sorted({h for w in self.wanted for h in _heights(w, roll)})
        wide = roll.width_nm - 2 * roll.trim_nm
        for high in heights:
            if self.way.high is None or high <= self.way.high:
                name = f"{high} off {roll.name} {roll.trim_nm}"
                row = Sheet(name, wide, high, roll.grain, roll.pattern_up)
                price = ceil(rate * (high + self.kerf))
                yield (
                    (roll, high),
                    SheetOffer(
                        name, row, breaks=(Break(1, price),), limit=self._most_rows(roll, high)
                    ),
                )

    def _most_rows(self, roll: Sheet, high: int) -> int | None:
        """How many rows there can be of a height; None for any number."""
        if self.way.free or roll in self.buys:
            return None
        rooms = (s.offer.on_hand - 2 * roll.trim_nm for s in self.here[roll])
        return sum((room + self.kerf) // (high + self.kerf) for room in rooms)

    def _planned(self, rows: Sequence[SheetOffer]) -> BatchPlan:
        offers = [*(_in_mills(s.offer) for s in self.plain), *rows]
        cutter = _in_a_row(self.problem.cutter)
        if self.problem.apart:
            return plan_apart(self.wanted, offers, cutter, ROW_STEPS)
        rolls = {**self.here, **self.buys}
        known = (
            filled_rows(self.wanted, next(iter(rolls)), self.kerf, self.way.high)
            if len(rolls) == 1 and self.problem.cutter.stages is None
            else ()
        )
        return plan_batch(self.wanted, offers, cutter, ROW_STEPS, known=known)

    def _lengths(self, roll: Sheet, rows: list[LayoutUse]) -> list[Length]:
        """The lengths that rows are cut off: those that are here first, the rest bought."""
        rows = sorted(rows, key=lambda row: -row.layout.height_nm)
        here = [
            Length(s, s.offer.on_hand - 2 * roll.trim_nm)
            for s in sorted(self.here.get(roll, ()), key=lambda s: (s.days, s.offer.on_hand))
        ]
        left = _fill(here, rows, self.kerf)
        if left and roll not in self.buys:
            raise NoPlanError(say(TOO_FEW))
        return [*(length for length in here if length.rows), *self._bought(roll, left)]

    def _bought(self, roll: Sheet, rows: list[LayoutUse]) -> list[Length]:
        """One length of an offer, or of two of them, in whole packs for the least money."""
        if not rows:
            return []
        ways = [self._costed(parts) for parts in self._ways_to_buy(roll, rows)]
        if not ways:
            raise NoPlanError(say(TOO_FEW))
        return min(ways, key=lambda way: (way[0], len(way[1])))[1]

    def _ways_to_buy(self, roll: Sheet, rows: list[LayoutUse]) -> Iterator[list[Length]]:
        for first in self.buys[roll]:
            most = self._packs(first, roll, rows)
            others = [s for s in self.buys[roll] if s is not first]
            for packs in sorted({most, *range(1, min(most, MOST_PACKS))}):
                one = Length(first, packs * first.offer.pack - 2 * roll.trim_nm, packs=packs)
                left = _fill([one], rows, self.kerf)
                if one.rows and not left:
                    yield [one]
                elif one.rows and others:
                    need = [
                        (cheapest_packs(s.offer, self._packs(s, roll, left)), s) for s in others
                    ]
                    (_, number), other = min(need, key=lambda way: (way[0], way[1].offer.key))
                    yield [one, Length(other, 0, left, number)]

    def _costed(self, parts: list[Length]) -> tuple[int, list[Length]]:
        return sum(pack_cost(part.source.offer, self._kept(part)) for part in parts), parts

    def _kept(self, length: Length) -> int:
        """Packs as they are bought: more where that costs less."""
        length.packs = cheapest_packs(length.source.offer, length.packs)[1]
        return length.packs

    def _packs(self, source: SheetSource, roll: Sheet, rows: Sequence[LayoutUse]) -> int:
        high = sum(r.layout.height_nm + self.kerf for r in rows) - self.kerf + 2 * roll.trim_nm
        return -(-high // source.offer.pack)

    def _as_one(
        self, planned: BatchPlan, plain: Sequence[LayoutUse], lengths: Sequence[Length]
    ) -> RollPlan:
        layouts = [(length, length.layout(self.kerf)) for length in lengths]
        at = {
            length.source.offer.key: (layout.height_nm, length.packs) for length, layout in layouts
        }
        problem = at_lengths(self.problem, at)
        by_key, by_sheet = problem.by_key, {s.sheet: s for s in supplies(problem.offers)}
        uses = [replace(use, supply=by_sheet[use.supply.sheet]) for use in plain]
        for length, layout in layouts:
            sheet = by_key[length.source.offer.key].offer.sheet
            uses.append(LayoutUse(layout, by_sheet[sheet], length.counts(), 1))
        bought = [
            Buy(
                by_key[buy.offer.key].offer,
                buy.packs,
                pack_cost(by_key[buy.offer.key].offer, buy.packs),
            )
            for buy in planned.bought
            if buy.offer.key in by_key
        ]
        for length in lengths:
            source = by_key[length.source.offer.key]
            if source.state == TO_BUY:
                bought.append(Buy(source.offer, 1, source.offer.breaks[0].price))
        plan = BatchPlan(
            tuple(uses), tuple(bought), 0, planned.steps, planned.rounds, planned.cut_short
        )
        return RollPlan(problem, plan, at)


def _in_mills(offer: SheetOffer) -> SheetOffer:
    """A plain sheet's offer with its money as fine as that of rows."""
    breaks = tuple(Break(row.from_packs, row.price * MILLS) for row in offer.breaks)
    return replace(offer, breaks=breaks, value=offer.value * MILLS)


def _in_a_row(cutter: Cutter) -> Cutter:
    """Cutting the rows off is one turn of those that the cutter may take, at least one."""
    if cutter.stages is None:
        return cutter
    return replace(cutter, stages=max(cutter.stages - 1, 0))


def _fill(lengths: Sequence[Length], rows: Sequence[LayoutUse], kerf: int) -> list[LayoutUse]:
    """Put rows into lengths, one length after the other as full as can be; those left over."""
    left = list(rows)
    for length in lengths:
        chosen = _fullest([row.layout.height_nm + kerf for row in left], length.room + kerf)
        length.rows = [left[n] for n in chosen]
        left = [row for n, row in enumerate(left) if n not in chosen]
    return left


def _fullest(heights: Sequence[int], room: int) -> frozenset[int]:
    """The rows that together fill a room best, by adding them up one after another."""
    if sum(heights) <= room:
        return frozenset(range(len(heights)))
    reached: dict[int, tuple[int, ...]] = {0: ()}
    for number, high in enumerate(heights):
        for total, chosen in list(reached.items()):
            if total + high <= room and total + high not in reached:
                reached[total + high] = (*chosen, number)
        if len(reached) > MOST_SUMS:
            reached = dict(sorted(reached.items())[-MOST_SUMS:])
    return frozenset(reached[max(reached)])


MOST_SUMS = 2000
"""Sums kept of those that rows may come to; past it the largest."""


def least_spend(asked: PaperProblem) -> int:
    """What no plan can undercut, by area: told where one roll is all there is to buy."""
    buys = [s for s in asked.sources if s.state == TO_BUY]
    if len(buys) != 1 or not buys[0].by_length:
        return 0
    [offer] = [source.offer for source in buys]
    area = sum(w.piece.width_nm * w.piece.height_nm * w.count for w in asked.wanted)
    free = sum(
        o.sheet.width_nm * o.sheet.height_nm * o.on_hand
        for o in (s.offer for s in asked.sources if s.state != TO_BUY)
    )
    packs = -(-max(area - free, 0) // (offer.sheet.width_nm * offer.pack))
    return cheapest_packs(offer, packs)[0] if packs else 0
