"""Where less is more: the nearest smaller leaf of which a sheet gives more, and what that saves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.core.cutting.one_sheet.yields import Line, Step, stairs
from app.core.length import INCH, MM
from app.core.money import to_minor
from app.core.structures.base import Dims
from app.language import say, to_say
from app.services.designs.estimating import Estimate, RolePaper
from app.services.stock.materials import paper_facts

LOOK_BACK_NM = 30 * MM
LOOK_AHEAD_NM = 20 * MM
LEAST_SIDE_NM = 20 * MM
MOST_WORTH_NM = 15 * MM
"""A saving further away than this makes another journal of it."""


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


_CALLED = {"leaf_width": to_say("leaf width"), "leaf_height": to_say("leaf height")}


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
            if role.chosen is None or role.chosen.stock_sheet.by_length:
                continue
            width, height = _lines(estimate, dims, key, role, now)
            span = (max(low, _least(width), _least(height)), high)
            steps = stairs(
                role.piece, width, height, role.chosen.cut.sheet, span, estimate.shop.cutter
            )
            saving = _nearest_saving(estimate, role, steps, now)
            found.append(Stairs(key, say(_CALLED[key]), role, now, span[0], tuple(steps), saving))
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
        if role.chosen is None or role.chosen.stock_sheet.by_length:
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
