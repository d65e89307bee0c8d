"""Goods off a roll: how long a piece of each the question of a paper takes, found before its plan.

A length is cut across into rows and each row into pieces, as one tears cloth and then cuts it.
So a row is planned as a sheet as wide as the roll and as high as a piece, at the price of its
height, and the plan for the least money takes the least length. What lies here is used first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from app.core.cutting.cutter import Cutter
from app.core.cutting.many_sheets.plan import LayoutUse
from app.core.cutting.many_sheets.planner import plan_as_known, plan_batch
from app.core.cutting.many_sheets.warm_start import KnownLayout
from app.core.cutting.model import Break, NoPlanError, SheetOffer, Wanted
from app.core.cutting.one_sheet.yields import lying_ways
from app.core.cutting.tree import Layout, Part, Placed, joined
from app.core.length import MM, show_size
from app.core.paper import Sheet
from app.core.planning.paper_problem import TO_BUY, PaperProblem, SheetSource
from app.core.planning.rows import filled_rows

Lengths = Mapping[str, int]
"""How long a piece of each source is planned with, in nanometres, by its key."""
MICRON = MM // 1000
ROW_STEPS = 500_000
"""Work for each plan of rows: half a second of a small computer, at the most."""


@dataclass(frozen=True)
class Rows:
    """Rows to cut off a roll one after another, and what of the wanted is cut elsewhere."""

    uses: tuple[LayoutUse, ...]
    elsewhere: tuple[LayoutUse, ...] = ()

    def length(self, sheet: Sheet, kerf: int) -> int:
        """From one end to the other, the blade's cuts between them and trimmed ends included."""
        rows = sum(use.repeats for use in self.uses)
        if not rows:
            return 0
        high = sum(use.layout.height_nm * use.repeats for use in self.uses)
        return high + (rows - 1) * kerf + 2 * sheet.trim_nm

    def layout(self, sheet: Sheet, kerf: int) -> Layout:
        """All of them on a piece of the roll that is long enough, what is over at its end."""
        at, end, parts = sheet.trim_nm, sheet.height_nm - sheet.trim_nm, []
        for use in self.uses:
            for _ in range(use.repeats):
                parts.append(_moved(use.layout.tree, sheet.trim_nm, at))
                at += use.layout.height_nm + kerf
        width = sheet.usable[0]
        if at < end:
            parts.append(Part(sheet.trim_nm, at, width, end - at))
        whole = Part(sheet.trim_nm, sheet.trim_nm, *sheet.usable, "across", tuple(parts))
        return Layout(sheet.width_nm, sheet.height_nm, sheet.trim_nm, joined(whole))


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


def at_lengths(problem: PaperProblem, lengths: Lengths) -> PaperProblem:
    """The question with a sheet of its length in place of each roll; those of none are left out."""
    sources = [
        _piece_of(source, lengths[source.offer.key]) if source.by_length else source
        for source in problem.sources
        if not source.by_length or lengths.get(source.offer.key)
    ]
    return replace(problem, sources=tuple(sources))


def _piece_of(source: SheetSource, length: int) -> SheetSource:
    """A source of one sheet, so long, off its roll."""
    offer = source.offer
    name = show_size(offer.sheet.width_nm, length, source.unit)
    sheet = replace(offer.sheet, name=name, height_nm=length)
    if source.state != TO_BUY:
        piece = replace(offer, sheet=sheet, on_hand=1, limit=0, value=offer.value * length)
        return replace(source, offer=piece, by_length=False, takes=length)
    packs = length // offer.pack
    price = packs * min(row.price for row in offer.breaks if row.from_packs <= packs)
    bought = replace(
        offer, sheet=sheet, pack=1, breaks=(Break(1, price),), limit=1, value=Fraction(price)
    )
    return replace(source, offer=bought, by_length=False, takes=length, packs=packs)


def with_lengths(problem: PaperProblem) -> tuple[PaperProblem, dict[str, int]]:
    """The question with every roll at the length it takes, begun from its rows; and the lengths."""
    finding = _Finding(problem)
    found = at_lengths(problem, finding.lengths())
    lengths = {s.offer.key: s.takes for s in found.sources if s.takes > 1}
    return replace(found, start=finding.start(found)), lengths


class _Finding:
    def __init__(self, problem: PaperProblem) -> None:
        self.problem, self.cutter = problem, problem.cutter
        stages = problem.cutter.stages
        # Cutting the rows off is one turn of those that the cutter may take.
        self.in_a_row = problem.cutter if stages is None else replace(
            problem.cutter, stages=max(stages - 1, 1)
        )  # fmt: skip
        self.rolls = [s for s in problem.sources if s.by_length]
        self.alone: dict[Sheet, Rows | None] = {}
        """Everything that fits cut off one kind of roll, by its sheet."""
        self.after: dict[Sheet, Rows | None] = {}
        """The same after what lies here and is on its way."""

    def lengths(self) -> dict[str, int]:
        """For what is here no more than all takes; to buy, what is missing, in whole packs."""
        for source in self.rolls:
            self.alone.setdefault(source.offer.sheet, self._rows(source.offer.sheet, ()))
        here = {
            s.offer.key: self._capped(s)
            for s in self.rolls
            if s.state != TO_BUY and self.alone[s.offer.sheet]
        }
        free = [s.offer for s in at_lengths(self.problem, here).sources if s.state != TO_BUY]
        buys = [s for s in self.rolls if s.state == TO_BUY and self.alone[s.offer.sheet]]
        for source in buys:
            sheet = source.offer.sheet
            if sheet not in self.after:
                rest = self._rows(sheet, free) if free else None
                self.after[sheet] = rest if rest and rest.uses else None
        return here | {s.offer.key: self._to_buy(s) for s in buys}

    def _capped(self, source: SheetSource) -> int:
        """As much of a length as everything takes, or as an earlier plan cut off one."""
        sheet, rows = source.offer.sheet, self.alone[source.offer.sheet]
        needed = rows.length(sheet, self.cutter.kerf_nm) if rows else 0
        known = [
            row.layout.height_nm
            for row in self.problem.start
            if (row.layout.width_nm, row.layout.trim_nm) == (sheet.width_nm, sheet.trim_nm)
        ]
        return min(source.offer.on_hand, max([needed, *known]))

    def _to_buy(self, source: SheetSource) -> int:
        sheet, pack = source.offer.sheet, source.offer.pack
        rows = self.after.get(sheet) or self.alone[sheet]
        least = min(row.from_packs for row in source.offer.breaks)
        needed = rows.length(sheet, self.cutter.kerf_nm) if rows else 0
        return max(-(-needed // pack), least) * pack

    def _rows(self, sheet: Sheet, free: Sequence[SheetOffer]) -> Rows | None:
        """The rows of least length in all that give what fits, once ``free`` sheets are used."""
        wide = sheet.width_nm - 2 * sheet.trim_nm
        wanted = [w for w in self.problem.wanted if w.count and _heights(w, sheet, wide)]
        rest = [w for w in self.problem.wanted if w.count and w not in wanted]
        if not wanted:
            return None
        heights = sorted({h for w in wanted for h in _heights(w, sheet, wide)})
        rows = [_row(sheet, wide, high, self.cutter) for high in heights]
        all_of_it = [*wanted, *(rest if free else ())]
        filled = filled_rows(wanted, sheet, wide, self.cutter.kerf_nm)
        known = () if self.cutter.stages else filled
        try:
            plan = plan_batch(all_of_it, [*free, *rows], self.in_a_row, ROW_STEPS, known=known)
        except NoPlanError:
            return self._rows(sheet, ()) if free else None
        keys = {row.sheet for row in rows}
        return Rows(
            tuple(use for use in plan.uses if use.supply.sheet in keys),
            tuple(use for use in plan.uses if use.supply.sheet not in keys),
        )

    def start(self, found: PaperProblem) -> tuple[KnownLayout, ...]:
        """The layouts of an earlier plan or of the rows, whichever cost least."""
        ways = [found.start, *self._ways(found)]
        plans = [(self._spend(found, way), n) for n, way in enumerate(ways)]
        known = [(spend, n) for spend, n in plans if spend is not None]
        return tuple(ways[min(known)[1]]) if known else found.start

    def _spend(self, found: PaperProblem, way: Sequence[KnownLayout]) -> int | None:
        try:
            plan = plan_as_known(found.wanted, found.offers, self.cutter, way) if way else None
        except NoPlanError:
            return None
        return None if plan is None else plan.spend

    def _ways(self, found: PaperProblem) -> Iterable[tuple[KnownLayout, ...]]:
        """For each length that is long enough: all of it off that, or after what is here."""
        by_key = {source.offer.key: source.offer.sheet for source in found.sources}
        for source in self.rolls:
            sheet = by_key.get(source.offer.key)
            for rows in (self.alone[source.offer.sheet], self.after.get(source.offer.sheet)):
                if sheet is None or rows is None:
                    continue
                if rows.length(sheet, self.cutter.kerf_nm) <= sheet.height_nm:
                    off = KnownLayout(rows.layout(sheet, self.cutter.kerf_nm), 1)
                    yield (off, *(KnownLayout(u.layout, u.repeats) for u in rows.elsewhere))


def _heights(wanted: Wanted, sheet: Sheet, wide: int) -> set[int]:
    """How high a piece lies in a row of the roll, each way that it may and fits."""
    ways = lying_ways(wanted.piece, sheet)
    return {way.height_nm for way in ways if way.width_nm <= wide}


def _row(sheet: Sheet, wide: int, high: int, cutter: Cutter) -> SheetOffer:
    """A row as a sheet that costs its height, in thousandths of a millimetre."""
    row = Sheet(f"row {high}", wide, high, sheet.grain, sheet.pattern_up)
    price = -(-(high + cutter.kerf_nm) // MICRON)
    return SheetOffer(f"row-{wide}-{high}", row, breaks=(Break(1, price),))


def without_end(layout: Layout) -> Layout:
    """A layout of a length off a roll, no longer than to the end of its last piece."""
    end = max(piece.y_nm + piece.height_nm for piece in layout.pieces)
    tree = joined(_shortened(layout.tree, end))
    return Layout(layout.width_nm, end + layout.trim_nm, layout.trim_nm, tree)


def _shortened(part: Part, end: int) -> Part:
    """What of a part lies before a line below which there is nothing."""
    inner = [_shortened(p, end) for p in part.parts if p.y_nm < end]
    high = min(part.height_nm, end - part.y_nm)
    if len(inner) == 1 and inner[0].height_nm == high and inner[0].width_nm == part.width_nm:
        return inner[0]
    return replace(part, height_nm=high, parts=tuple(inner))


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
    missing = max(area - free, 0)
    packs = -(-missing // (offer.sheet.width_nm * offer.pack))
    ways = {packs, *(row.from_packs for row in offer.breaks if row.from_packs > packs)}
    first = min(row.from_packs for row in offer.breaks)
    return (
        min(
            n * min(row.price for row in offer.breaks if row.from_packs <= n)
            for n in ways
            if n >= first
        )
        if packs
        else 0
    )
