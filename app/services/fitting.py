"""Why a piece does not fit on any sheet, with the figure and a fix; and where less is more.

The savings look along the yield stairs of a design for the nearest smaller leaf that gets more
pieces out of a sheet, and say what that saves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from app.core.cutting.one_sheet.yields import Line, Step, lying_ways, stairs, yield_of
from app.core.length import INCH, MM, show_length, show_size
from app.core.money import to_minor
from app.core.paper import Piece, Sheet
from app.core.structures.base import Dims
from app.models import Shop
from app.services.materials import paper_facts

if TYPE_CHECKING:
    from app.services.estimating import Estimate, RolePaper

LOOK_BACK_NM = 30 * MM
LOOK_AHEAD_NM = 20 * MM
LEAST_SIDE_NM = 20 * MM
MOST_WORTH_NM = 15 * MM
"""A saving further away than this makes another journal of it."""


def why_it_does_not_fit(piece: Piece, sheets: Sequence[Sheet], shop: Shop) -> str:
    """By how much a piece is too large for the nearest sheet, or the grain that bars it."""
    unit = shop.unit
    size = show_size(piece.width_nm, piece.height_nm, unit)
    what = f"The {piece.name} is {size}"
    anyhow = replace(piece, grain=None)
    for sheet in sheets:
        if yield_of(anyhow, replace(sheet, pattern_up=False), shop.cutter).best:
            if sheet.pattern_up and yield_of(piece, replace(sheet, pattern_up=False)).best:
                return (
                    f"{what} and fits a {sheet.name} sheet only on its side, where the pattern "
                    "would lie wrong. Take a sheet without a pattern, or a smaller size."
                )
            return (
                f"{what} and fits a {sheet.name} sheet only with its fold across the grain, "
                f"which runs along the sheet's {sheet.grain}: it would crack. Take a sheet with "
                f"the grain along its {_other(sheet.grain)}, a smaller size, or let the grain "
                "run either way."
            )
    tries = [
        (max(way.width_nm - w, 0) + max(way.height_nm - h, 0), way, sheet, w, h)
        for sheet in sheets
        for way in lying_ways(piece, sheet)
        for w, h in (sheet.usable,)
    ]
    if not tries:
        return f"{what} and lies on none of the sheets the way its grain must run."
    _, way, sheet, w, h = min(tries, key=lambda t: t[0])
    wide, high = ("height", "width") if way.turned else ("width", "height")
    over = {wide: way.width_nm - w, high: way.height_nm - h}
    said, mends = [], []
    for side in ("width", "height"):
        if over[side] > 0:
            # Two leaves, or two panels, lie in the width of a piece.
            each = -(-over[side] // 2) if side == "width" else over[side]
            said.append(f"{show_length(over[side], unit)} too much in {side}")
            mends.append(f"{show_length(each, unit)} off the leaf's {side}")
    usable = " once trimmed" if sheet.trim_nm else ""
    return (
        f"{what}; even on the sheet that comes nearest, {sheet.name}{usable}, it is "
        f"{' and '.join(said)}. Take {' and '.join(mends)}, or add a larger sheet."
    )


def _other(grain: str | None) -> str:
    return "height" if grain == "width" else "width"


@dataclass(frozen=True)
class Stairs:
    """The yield of one role's sheet as one dimension of the leaf varies."""

    dimension: str
    label: str
    role: RolePaper
    now_nm: int
    low_nm: int
    steps: tuple[Step, ...]
    saving: Saving | None


@dataclass(frozen=True)
class Saving:
    """Taking ``less_nm`` off a dimension gives ``count`` pieces a sheet and saves ``money``."""

    less_nm: int
    at_nm: int
    count: int
    money: Decimal | None


def yield_stairs(estimate: Estimate, dims: Dims) -> list[Stairs]:
    """The stairs of every watched dimension and every paper that fits, leaves first."""
    found: list[Stairs] = []
    for key in estimate.structure.stairs_keys:
        dimension = next(d for d in estimate.structure.dimensions if d.key == key)
        now = dims[key]
        if not isinstance(now, int):
            continue
        low = max(now - LOOK_BACK_NM, dimension.least)
        high = min(now + LOOK_AHEAD_NM, dimension.most)
        for role in estimate.papers:
            if role.chosen is None:
                continue
            width, height = _lines(estimate, dims, key, role, now)
            span = (max(low, _least(width), _least(height)), high)
            steps = stairs(
                role.piece, width, height, role.chosen.cut.sheet, span, estimate.shop.cutter
            )
            saving = _nearest_saving(estimate, role, steps, now)
            label = f"leaf {dimension.label.lower()}"
            found.append(Stairs(key, label, role, now, span[0], tuple(steps), saving))
    return found


def _lines(
    estimate: Estimate, dims: Dims, key: str, role: RolePaper, now: int
) -> tuple[Line, Line]:
    """How a piece's sides follow the dimension, read off two builds a step apart.

    The papers stand in by thickness only, and that does not change with a leaf's size.
    """
    made = estimate.structure
    facts = {r.key: paper_facts(None) for r in made.roles if r.measure == "sheet"}
    facts |= {p.role.key: paper_facts(p.paper) for p in estimate.papers}
    first, second = (
        next(
            piece
            for piece in made.build({**dims, key: x}, facts).pieces[role.role.key]
            if piece.name == role.piece.name
        )
        for x in (now, now + MM)
    )

    def line(at: int, later: int) -> Line:
        slope = (later - at) // MM
        return Line(slope, at - slope * now)

    return line(first.width_nm, second.width_nm), line(first.height_nm, second.height_nm)


def _least(side: Line) -> int:
    """The least of the dimension at which a side is still worth cutting."""
    return -(-(LEAST_SIDE_NM - side.offset_nm) // side.slope) if side.slope else 0


def _nearest_saving(
    estimate: Estimate, role: RolePaper, steps: Sequence[Step], now: int
) -> Saving | None:
    chosen = role.chosen
    if chosen is None:
        return None
    better = [s for s in steps if s.up_to_nm < now and s.count > chosen.cut.best]
    if not better:
        return None
    step = better[-1]
    # Down to a measure a maker can set: what the hint says must really fit.
    grid = INCH // 32 if estimate.shop.unit == "in" else MM // 2
    at = step.up_to_nm // grid * grid
    if now - at > MOST_WORTH_NM:
        return None
    money = None
    if chosen.price:
        count = role.piece.count
        less = Fraction(count, chosen.cut.best) - Fraction(count, step.count)
        money = to_minor(less * chosen.price.each, estimate.currency)
    return Saving(now - at, at, step.count, money)


@dataclass(frozen=True)
class Plateau:
    """At this height, the yields of one sheet as the width varies."""

    height_nm: int
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class YieldMap:
    """Pieces from one sheet over both dimensions of the leaf; widths exact, heights sampled."""

    role: RolePaper
    low_nm: int
    high_nm: int
    now_nm: tuple[int, int]
    rows: tuple[Plateau, ...]


MAP_REACH_NM, MAP_ROWS = 40 * MM, 25


def yield_map(estimate: Estimate, dims: Dims) -> list[YieldMap]:
    """For every paper that fits, how the yield changes as height and width both vary."""
    if not {"leaf_width", "leaf_height"} <= set(estimate.structure.stairs_keys):
        return []
    width_now, height_now = dims["leaf_width"], dims["leaf_height"]
    if not isinstance(width_now, int) or not isinstance(height_now, int):
        return []
    found = []
    for role in estimate.papers:
        if role.chosen is None:
            continue
        wide, tall_reach = min(MAP_REACH_NM, width_now // 3), min(MAP_REACH_NM, height_now // 3)
        low, high = max(width_now - wide, LEAST_SIDE_NM), width_now + wide
        bottom, top = max(height_now - tall_reach, LEAST_SIDE_NM), height_now + tall_reach
        rows = []
        for n in range(MAP_ROWS):
            height = bottom + n * (top - bottom) // (MAP_ROWS - 1)
            at = {**dims, "leaf_height": height}
            width, tall = _lines(estimate, at, "leaf_width", role, width_now)
            span = (max(low, _least(width)), high)
            sheet = role.chosen.cut.sheet
            steps = stairs(role.piece, width, tall, sheet, span, estimate.shop.cutter)
            rows.append(Plateau(height, tuple(steps)))
        found.append(YieldMap(role, low, high, (width_now, height_now), tuple(rows)))
    return found
