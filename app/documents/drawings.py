"""Workshop drawings to scale: the cover laid flat, one folio, a sheet cut up, the yield stairs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from app.core.cutting.cut_sequence import CutStep
from app.core.cutting.one_sheet.yields import Step, Yield
from app.core.cutting.tree import Layout, Part, Placed
from app.core.length import Show
from app.core.structures.base import Build, Flat
from app.documents.svg import Canvas
from app.language import say, say_many

LEFT, RIGHT, TOP, BOTTOM = 34.0, 12.0, 10.0, 30.0
LINE, BESIDE, FIGURE = 12.0, 40.0, 7.0
"""How high a figure is, how far a second column stands from the first, how wide a digit is."""


class _Scale:
    """Pixels for nanometres, so that a width and a height both stay within bounds."""

    def __init__(self, width_nm: int, height_nm: int, most_wide: float, most_high: float) -> None:
        self.px = min(most_wide / width_nm, most_high / height_nm)
        self.width, self.height = width_nm * self.px, height_nm * self.px

    def x(self, nm: int) -> float:
        return LEFT + nm * self.px

    def y(self, nm: int) -> float:
        return TOP + nm * self.px


def flat_drawing(flat: Flat, show: Show, key: str, wide: float = 330, high: float = 220) -> str:
    """A part laid flat to scale: outline, folds, holes, panels measured, grain beside it."""
    scale = _Scale(flat.width_nm, flat.height_nm, wide, high)
    named = bool(flat.panels)
    canvas = Canvas(LEFT + scale.width + (38 if flat.grain else RIGHT),
                    TOP + scale.height + BOTTOM + (28 if named else 0))  # fmt: skip
    css = f"{flat.stock}-stock"
    if flat.outline:
        canvas.shape([(scale.x(x), scale.y(y)) for x, y in flat.outline], css)
    else:
        canvas.rect(LEFT, TOP, scale.width, scale.height, css)
    for x1, y1, x2, y2 in flat.folds:
        canvas.line(scale.x(x1), scale.y(y1), scale.x(x2), scale.y(y2), "fold")
    for x1, y1, x2, y2 in flat.cuts:
        canvas.line(scale.x(x1), scale.y(y1), scale.x(x2), scale.y(y2), "slit")
    for hole in flat.holes:
        canvas.dot(scale.x(hole.x_nm), scale.y(hole.y_nm), 1.9, "hole")
    for across, down in flat.eyelets:
        canvas.dot(scale.x(across), scale.y(down), 3.2, "eyelet")
    for across, down, words in flat.labels:
        canvas.words(scale.x(across), scale.y(down) + 4, words, "figure")
    _stations_beside(canvas, flat, scale, show)
    base = TOP + scale.height + 9
    if named:
        _panels_below(canvas, flat, scale, show, base)
    else:
        canvas.level_measure(LEFT, LEFT + scale.width, base, show(flat.width_nm))
    canvas.upright_measure(22, TOP, TOP + scale.height, show(flat.height_nm))
    if flat.grain == "height":
        x, middle = LEFT + scale.width + 14, TOP + scale.height / 2
        canvas.grain_arrow(x, middle, scale.height * 0.7, level=False)
        canvas.words(x + 14, middle, say("grain"), "figure", upright=True)
    return canvas.picture(key, flat.name, _in_words(flat, show))


def _stations_beside(canvas: Canvas, flat: Flat, scale: _Scale, show: Show) -> None:
    """The stations' distances from the head, where one row of holes leaves room for them."""
    rows = {hole.x_nm for hole in flat.holes}
    if len(rows) != 1 or flat.stock != "leaf":
        return
    columns: list[float] = []
    for hole in flat.holes:
        y, words = scale.y(hole.y_nm) + 4, show(hole.y_nm)
        # A figure that would lie on the one above stands beside it.
        column = next((n for n, foot in enumerate(columns) if y - foot >= LINE), len(columns))
        columns[column : column + 1] = [y]
        x = scale.x(hole.x_nm) + 8 + column * BESIDE
        canvas.words(x, y, words, "figure start")


def _panels_below(canvas: Canvas, flat: Flat, scale: _Scale, show: Show, base: float) -> None:
    ends = [0.0, 0.0]
    for panel in flat.panels:
        left, right = scale.x(panel.x_nm), scale.x(panel.x_nm + panel.width_nm)
        narrow = right - left < 46
        name = f"{panel.name}:" if panel.name.isdecimal() else panel.name
        words = show(panel.width_nm) if narrow else f"{name} {show(panel.width_nm)}"
        canvas.line(left, base, right, base, "measure")
        for x in (left, right):
            canvas.line(x, base - 4, x, base + 4, "measure")
        # A narrow panel's figure goes one line lower, or two, clear of its neighbours'.
        middle, half = (left + right) / 2, len(words) * FIGURE / 2
        line = 0 if middle - half >= ends[0] else 1
        if narrow:
            ends[line] = middle + half
        canvas.words(middle, base + (28 + line * LINE if narrow else 14), words, "figure")


def _in_words(flat: Flat, show: Show) -> str:
    said = say(
        "{width} wide and {height} high", width=show(flat.width_nm), height=show(flat.height_nm)
    )
    if flat.panels:
        said += ": " + ", ".join(f"{p.name} {show(p.width_nm)}" for p in flat.panels)
    if flat.holes:
        holes = say_many(
            len(flat.holes),
            "{n} hole, from the head at {stations}",
            "{n} holes, from the head at {stations}",
            stations=", ".join(show(y) for y in flat.stations_nm),
        )
        said = f"{said}; {holes}"
    return f"{said}."


def _front(canvas: Canvas, build: Build, left: float, top: float, px: float) -> None:
    """The front of a finished piece, its flap and what closes it."""
    wide, high = build.closed_width_nm * px, build.closed_height_nm * px
    canvas.rect(left, top, wide, high, "card-stock")
    if build.flap_reach_nm:
        x = left + wide - min(build.flap_reach_nm * px, wide)
        canvas.line(x, top, x, top + high, "fold")
    for x1, y1, x2, y2 in build.closing_lines:
        canvas.line(left + x1 * px, top + y1 * px, left + x2 * px, top + y2 * px, "cord")


def closed_drawing(build: Build, show: Show, key: str = "closed") -> str:
    """The finished piece from the front and from its edge, with flap and closing."""
    deep = max(build.thickness_nm, 1)
    scale = _Scale(build.closed_width_nm + deep, build.closed_height_nm, 190, 220)
    width, thick = build.closed_width_nm * scale.px, max(deep * scale.px, 1.5)
    gap = 26.0
    canvas = Canvas(LEFT + width + gap + thick + 40, TOP + scale.height + BOTTOM)
    _front(canvas, build, LEFT, TOP, scale.px)
    canvas.rect(LEFT + width + gap, TOP, thick, scale.height, "leaf-stock")
    for x1, y1, x2, _ in build.closing_lines:
        if x2 - x1 == build.closed_width_nm:
            # What goes round it is seen from the edge as well.
            y = scale.y(y1)
            canvas.line(LEFT + width + gap, y, LEFT + width + gap + thick, y, "cord")
    for x, y_nm in build.closing_dots:
        canvas.dot(scale.x(x), scale.y(y_nm), 3.2, "eyelet")
    base = TOP + scale.height + 9
    canvas.level_measure(LEFT, LEFT + width, base, show(build.closed_width_nm))
    canvas.words(LEFT + width + gap + thick / 2, base + 14, show(deep), "figure")
    canvas.upright_measure(22, TOP, TOP + scale.height, show(build.closed_height_nm))
    return canvas.picture(
        key, say("Closed, from the front and from the edge"),
        say(
            "{width} wide, {height} high and {thickness} thick.",
            width=show(build.closed_width_nm), height=show(build.closed_height_nm),
            thickness=show(deep),
        ),
    )  # fmt: skip


SMALL = 44.0
"""Pixels of the longest side of all that are drawn on one list."""


def drawn_small(builds: Mapping[int, Build]) -> dict[int, str]:
    """Finished pieces from the front, by their keys, all to one scale; none of what has no size."""
    sides = [max(b.closed_width_nm, b.closed_height_nm) for b in builds.values()]
    px = SMALL / max([*sides, 1])
    found = {}
    for key, build in builds.items():
        wide, high = build.closed_width_nm * px, build.closed_height_nm * px
        if not wide or not high:
            continue
        canvas = Canvas(SMALL + 2, high + 2)
        _front(canvas, build, 1 + (SMALL - wide) / 2, 1, px)
        found[key] = canvas.ornament("small-drawing")
    return found


def sheet_drawing(cut: Yield, show: Show, key: str, said: str = "", most: float = 190) -> str:
    """A parent sheet with its pieces and what is left, to scale, the grain beside it.

    ``said`` is what it is where that is no sheet.
    """
    layout, sheet = cut.layout, cut.sheet
    scale = _Scale(layout.width_nm, layout.height_nm, most, most)
    canvas = Canvas(LEFT + scale.width + 26, TOP + scale.height + BOTTOM)
    canvas.rect(LEFT, TOP, scale.width, scale.height, "waste")
    for placed in layout.pieces:
        x, y = scale.x(placed.x_nm), scale.y(placed.y_nm)
        width, height = placed.width_nm * scale.px, placed.height_nm * scale.px
        canvas.rect(x, y, width, height, "piece turned" if placed.turned else "piece")
    canvas.level_measure(LEFT, LEFT + scale.width, TOP + scale.height + 9, show(layout.width_nm))
    canvas.upright_measure(22, TOP, TOP + scale.height, show(layout.height_nm))
    _grain_beside(canvas, sheet.grain, scale)
    used, whole = cut.used_share
    title = (
        say("{number} from {source}", number=cut.best, source=said)
        if said
        else say("{number} from a {size} sheet", number=cut.best, size=sheet.name)
    )
    share = say("{share} of the sheet used", share=f"{used * 100 // whole}%")
    grain = f"; {_grain_said(sheet.grain)}" if sheet.grain else ""
    return canvas.picture(key, title, f"{_cuts(layout.cuts)}, {share}{grain}.")


def layout_drawing(
    layout: Layout,
    steps: Sequence[CutStep],
    names: Mapping[str, str],
    show: Show,
    key: str,
    grain: str | None = None,
    kept: Sequence[Part] = (),
    *,
    small: bool = False,
    letters: Mapping[str, str] | None = None,
) -> str:
    """A sheet as it is cut: pieces by name, the cuts numbered, offcuts kept, grain beside it.

    A piece with no room for its name bears its letter, where ``letters`` gives it one.
    """
    scale = _Scale(layout.width_nm, layout.height_nm, *((190, 210) if small else (320, 360)))
    canvas = Canvas(LEFT + scale.width + 30, TOP + scale.height + BOTTOM)
    canvas.rect(LEFT, TOP, scale.width, scale.height, "waste")
    for part in kept:
        x, y, width, height = _box(part, scale)
        canvas.rect(x, y, width, height, "offcut")
        size = say("keep {size}", size=f"{show(part.width_nm)} × {show(part.height_nm)}")
        _label(canvas, size, x, y, width, height)
    for placed in layout.pieces:
        x, y, width, height = _box(placed, scale)
        canvas.rect(x, y, width, height, "piece turned" if placed.turned else "piece")
        name, letter = names.get(placed.name, placed.name), (letters or {}).get(placed.name, "")
        if not _label(canvas, name, x, y, width, height):
            _label(canvas, letter, x, y, width, height)
    for step in steps:
        for line in step.lines:
            x1, y1, x2, y2 = scale.x(line[0]), scale.y(line[1]), scale.x(line[2]), scale.y(line[3])
            canvas.line(x1, y1, x2, y2, "cut")
            at = (x1 + 8, y1) if step.cut == "across" else (x1, y1 + 8)
            canvas.dot(*at, 7, "cut-mark")
            canvas.words(at[0], at[1] + 3.5, str(step.number), "cut-number")
    canvas.level_measure(LEFT, LEFT + scale.width, TOP + scale.height + 9, show(layout.width_nm))
    canvas.upright_measure(22, TOP, TOP + scale.height, show(layout.height_nm))
    _grain_beside(canvas, grain, scale)
    counts = Counter(names.get(p.name, p.name) for p in layout.pieces)
    pieces = ", ".join(f"{n} × {name}" for name, n in counts.items())
    title = (
        say("Sheet cut into {pieces}", pieces=pieces) if pieces else say("Sheet cut into nothing")
    )
    parts = [f"{show(layout.width_nm)} × {show(layout.height_nm)}", _cuts(layout.cuts)]
    if steps:
        taken = say_many(len(steps), "{n} step", "{n} steps")
        parts[1:] = [say("{cuts} in {steps}", cuts=parts[1], steps=taken), _offcuts_kept(len(kept))]
    if grain:
        parts.append(_grain_said(grain))
    return canvas.picture(key, title, f"{', '.join(parts)}.")


def _cuts(count: int) -> str:
    return say_many(count, "{n} cut", "{n} cuts")


def _offcuts_kept(count: int) -> str:
    if not count:
        return say("no offcuts kept")
    return say_many(count, "{n} offcut kept", "{n} offcuts kept")


def _grain_said(grain: str) -> str:
    return say("grain along its width") if grain == "width" else say("grain along its height")


def _box(part: Part | Placed, scale: _Scale) -> tuple[float, float, float, float]:
    return (
        scale.x(part.x_nm), scale.y(part.y_nm), part.width_nm * scale.px, part.height_nm * scale.px
    )  # fmt: skip


def _label(canvas: Canvas, words: str, x: float, y: float, width: float, height: float) -> bool:
    """Words in the middle of a box where they fit, level or upright; else none. Whether they do."""
    needs = 6.8 * len(words) + 4
    if height >= 14 and width >= needs:
        canvas.words(x + width / 2, y + height / 2 + 4, words, "figure")
    elif width >= 14 and height >= needs:
        canvas.words(x + width / 2 + 4, y + height / 2, words, "figure", upright=True)
    else:
        return False
    return True


def _grain_beside(canvas: Canvas, grain: str | None, scale: _Scale) -> None:
    if grain == "height":
        canvas.grain_arrow(
            LEFT + scale.width + 14, TOP + scale.height / 2, scale.height * 0.6, level=False
        )
    elif grain == "width":
        canvas.grain_arrow(
            LEFT + scale.width / 2, TOP + scale.height + 27, scale.width * 0.5, level=True
        )


def stairs_drawing(
    steps: Sequence[Step], low_nm: int, now_nm: int, label: str, show: Show, key: str
) -> str:
    """Pieces from a sheet as one dimension varies: a flight of stairs with the present marked."""
    width, height = 330.0, 150.0
    canvas = Canvas(width, height + 6)
    left, right, top, bottom = 30.0, width - 14, 14.0, height - 28
    high_nm = steps[-1].up_to_nm
    span = max(high_nm - low_nm, 1)
    most = max(step.count for step in steps)
    least = min(step.count for step in steps)
    floor = max(least - max((most - least) // 2, 1), 0)

    def x(nm: int) -> float:
        return left + (nm - low_nm) / span * (right - left)

    def y(count: int) -> float:
        return bottom - (count - floor) / max(most - floor, 1) * (bottom - top)

    for count in sorted({step.count for step in steps}):
        canvas.line(left, y(count), right, y(count), "guide")
        canvas.words(left - 12, y(count) + 4, str(count), "figure")
    points: list[tuple[float, float]] = []
    at = low_nm
    for step in steps:
        points += [(x(at), y(step.count)), (x(step.up_to_nm), y(step.count))]
        at = step.up_to_nm
    canvas.path(points, "stair")
    now = next(step.count for step in steps if now_nm <= step.up_to_nm)
    canvas.dot(x(now_nm), y(now), 4, "now")
    for step in steps[:-1]:
        if step.count > now and step.up_to_nm < now_nm:
            canvas.dot(x(step.up_to_nm), y(step.count), 3.4, "better")
    for nm in (low_nm, now_nm, high_nm):
        canvas.words(min(max(x(nm), left + 8), right - 14), bottom + 16, show(nm), "figure")
    canvas.words((left + right) / 2, bottom + 32, label, "figure")
    said = "; ".join(
        say("{count} up to {length}", count=s.count, length=show(s.up_to_nm)) for s in steps
    )
    at_now = say("Now {count} at {length}.", count=now, length=show(now_nm))
    title = say("Pieces from one sheet by {dimension}", dimension=label)
    return canvas.picture(key, title, f"{at_now} {said}.")
