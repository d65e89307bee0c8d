"""Templates at full size: what is laid on paper and cover to punch, score and cut by.

Each one comes from a structure's flats, so its holes are those of the drawings and the steps. As
PDF they lie on the printer's paper, tiled with marks where they are larger; every page has a line
of 100 mm and one of 4 in to measure the printer by. As SVG they are in millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from html import escape
from io import BytesIO

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from app.core.length import INCH, MM, Show
from app.core.structures.base import Build, Flat, Hole, Line, upright_folds
from app.documents.letters import BOLD, PLAIN, letters
from app.language import about, say

PAGES = {"A4": A4, "Letter": LETTER}
MARGIN_NM, OVERLAP_NM, FOOT_NM = 10 * MM, 10 * MM, 24 * MM
"""Unprinted edge, what neighbouring tiles share, and the room for the check lines."""
GUIDE_NM = 40 * MM
GAP_PT = 7.0
SMALLEST_PT = 5.5
"""Between a hole and its figure."""
BESIDE_NM = 15 * MM
"""A fold this near to the holes is passed before a figure stands beside them."""
POINT = Fraction(INCH, 72)
"""A typographic point, 1/72 in, which PDF counts in."""


@dataclass(frozen=True)
class Template:
    """A flat to print at full size, and what it is for."""

    key: str
    title: str
    flat: Flat


def templates(build: Build) -> list[Template]:
    """The templates of one journal: a guide for each fold that is punched, and every flat.

    Folds that are punched alike have one guide.
    """
    found: list[Template] = []
    guides: set[tuple[int, tuple[int, ...]]] = set()
    for flat in build.flats:
        if flat.stock == "leaf" and flat.holes:
            alike = (flat.height_nm, flat.stations_nm)
            if alike not in guides:
                title = (
                    say("Punching guide, for one punched by itself: {part}", part=flat.name)
                    if guides
                    else say("Punching guide: {part}", part=flat.name)
                )
                found.append(Template(f"{flat.key}-guide", title, _guide(flat)))
            guides.add(alike)
            if flat.outline:
                found.append(Template(flat.key, flat.name, flat))
        elif flat.folds or flat.holes or flat.outline or flat.eyelets:
            found.append(Template(flat.key, flat.name, flat))
    return found


def _guide(flat: Flat) -> Flat:
    """A strip to lie in the fold (or along the spine edge) with the stations on its middle line."""
    # Folds that are punched alike have one guide; a pattern's holes all lie in one.
    first = flat.holes[0]
    alike = [hole for hole in flat.holes if hole.y_nm == first.y_nm]
    holes = [h for h in flat.holes if len(alike) == 1 or h.x_nm == first.x_nm]
    x, last = min(h.x_nm for h in holes), max(h.x_nm for h in holes)
    left = max(x - GUIDE_NM // 2, 0)
    width = min(last - x + GUIDE_NM, flat.width_nm - left)
    return Flat(
        key=f"{flat.key}-guide", name=flat.name, stock=flat.stock, width_nm=width,
        height_nm=flat.height_nm, folds=upright_folds([first.x_nm - left], flat.height_nm),
        holes=tuple(Hole(h.x_nm - left, h.y_nm, h.row, h.station) for h in holes),
    )  # fmt: skip


@dataclass(frozen=True)
class Tile:
    """The part of a template on one page, by column and row, with its place on the template."""

    column: int
    row: int
    x_nm: int
    y_nm: int
    width_nm: int
    height_nm: int


def tiles(width_nm: int, height_nm: int, room: tuple[int, int]) -> list[Tile]:
    """Cover a template with pages of this much room, neighbours sharing :data:`OVERLAP_NM`."""
    columns = list(_stretches(width_nm, room[0]))
    rows = list(_stretches(height_nm, room[1]))
    return [
        Tile(c, r, x, y, w, h) for r, (y, h) in enumerate(rows) for c, (x, w) in enumerate(columns)
    ]


def _stretches(length: int, room: int) -> Iterator[tuple[int, int]]:
    at = 0
    while True:
        yield at, min(room, length - at)
        if at + room >= length:
            return
        at += room - OVERLAP_NM


def room_on(page: str, *, landscape: bool = False) -> tuple[int, int]:
    """Width and height of a page that a template can take, in nanometres."""
    width, height = (int(Fraction(side) * POINT) for side in map(_exact, PAGES[page]))
    if landscape:
        width, height = height, width
    return width - 2 * MARGIN_NM, height - 2 * MARGIN_NM - FOOT_NM


def _exact(points: float) -> Fraction:
    return Fraction(points).limit_denominator(10**6)


def template_pdf(found: Sequence[Template], heading: str, show: Show, page: str = "A4") -> bytes:
    """All templates as a PDF at full size, one or more pages each."""
    out = BytesIO()
    letters()
    canvas = Canvas(out, pagesize=PAGES[page], invariant=1, initialFontName=PLAIN)
    canvas.setTitle(say("Templates: {heading}", heading=heading))
    canvas.setAuthor("Tallyfold")
    for template in found:
        flat = template.flat
        ways = [
            tiles(flat.width_nm, flat.height_nm, room_on(page, landscape=wide))
            for wide in (False, True)
        ]
        landscape = len(ways[1]) < len(ways[0])
        for tile in ways[landscape]:
            _page(canvas, template, tile, ways[landscape], heading, show, page, landscape=landscape)
    canvas.save()
    return out.getvalue()


class _Paper:
    """Template nanometres on one page of the canvas, which counts points from the bottom left."""

    def __init__(self, canvas: Canvas, tile: Tile, size: tuple[float, float]) -> None:
        self.canvas, self.tile, self.height = canvas, tile, size[1]

    def x(self, nm: int) -> float:
        return float(Fraction(nm - self.tile.x_nm + MARGIN_NM) / POINT)

    def y(self, nm: int) -> float:
        return self.height - float(Fraction(nm - self.tile.y_nm + MARGIN_NM) / POINT)

    def line(self, line: Line) -> None:
        x1, y1, x2, y2 = line
        self.canvas.line(self.x(x1), self.y(y1), self.x(x2), self.y(y2))


def _page(
    canvas: Canvas, template: Template, tile: Tile, every: Sequence[Tile], heading: str,
    show: Show, page: str, *, landscape: bool,
) -> None:  # fmt: skip
    width, height = PAGES[page]
    size = (height, width) if landscape else (width, height)
    canvas.setPageSize(size)
    paper = _Paper(canvas, tile, size)
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(
        paper.x(tile.x_nm) - 1, paper.y(tile.y_nm + tile.height_nm) - 1,
        _points(tile.width_nm) + 2, _points(tile.height_nm) + 2,
    )  # fmt: skip
    canvas.clipPath(clip, stroke=0)
    _flat(canvas, paper, template.flat, show)
    canvas.restoreState()
    if len(every) > 1:
        _marks(canvas, paper, tile)
    _foot(canvas, template, tile, every, heading, size)
    canvas.showPage()


def _flat(canvas: Canvas, paper: _Paper, flat: Flat, show: Show) -> None:
    canvas.setLineWidth(0.6)
    outline = flat.outline or (
        (0, 0), (flat.width_nm, 0), (flat.width_nm, flat.height_nm), (0, flat.height_nm),
    )  # fmt: skip
    for (x1, y1), (x2, y2) in zip(outline, (*outline[1:], outline[0]), strict=True):
        paper.line((x1, y1, x2, y2))
    canvas.setDash(4, 3)
    canvas.setLineWidth(0.4)
    for fold in flat.folds:
        paper.line(fold)
    canvas.setDash()
    canvas.setLineWidth(1)
    for cut in flat.cuts:
        paper.line(cut)
    canvas.setLineWidth(0.4)
    for hole in flat.holes:
        x, y = paper.x(hole.x_nm), paper.y(hole.y_nm)
        canvas.circle(x, y, 1.2, stroke=1, fill=0)
        canvas.line(x - 4, y, x + 4, y)
        canvas.line(x, y - 4, x, y + 4)
    canvas.setFont(PLAIN, 7)
    for x_nm, y_nm in flat.eyelets:
        canvas.circle(paper.x(x_nm), paper.y(y_nm), 4, stroke=1, fill=0)
    _station_figures(canvas, paper, flat, show)
    for x_nm, y_nm, words in flat.labels:
        canvas.drawCentredString(paper.x(x_nm), paper.y(y_nm), words)
    for panel in flat.panels:
        middle = paper.x(panel.x_nm + panel.width_nm // 2)
        canvas.drawCentredString(middle, paper.y(flat.height_nm) + 8, panel.name)
    canvas.drawString(paper.x(0) + 4, paper.y(0) - 9, say("head"))


def _station_figures(canvas: Canvas, paper: _Paper, flat: Flat, show: Show) -> None:
    """Each station's distance from the head, beside its holes and whole on this page.

    All left of the folds that the holes lie near, where nothing is drawn; where that is too narrow
    for one of them, all right of the holes and the fold beside them. A page without holes has none.
    """
    tile = paper.tile
    if not any(tile.x_nm <= hole.x_nm <= tile.x_nm + tile.width_nm for hole in flat.holes):
        return
    first, last = (f(hole.x_nm for hole in flat.holes) for f in (min, max))
    upright = [f[0] for f in flat.folds if f[0] == f[2]]
    near = [x for x in upright if x <= first]
    edge = max(near, default=first) if first not in near else first
    beyond = max([last, *(x for x in upright if last < x <= last + BESIDE_NM)])
    left, right = paper.x(tile.x_nm), paper.x(tile.x_nm + tile.width_nm)
    widest = max(stringWidth(show(y), PLAIN, 7) for y in flat.stations_nm)
    end = min(paper.x(edge) - GAP_PT, right)
    for y_nm in flat.stations_nm:
        words, y = show(y_nm), paper.y(y_nm) - 2
        if not tile.y_nm <= y_nm <= tile.y_nm + tile.height_nm:
            continue
        if end - widest >= left:
            canvas.drawRightString(end, y, words)
        elif max(paper.x(beyond) + GAP_PT, left) + widest <= right:
            canvas.drawString(max(paper.x(beyond) + GAP_PT, left), y, words)


def _marks(canvas: Canvas, paper: _Paper, tile: Tile) -> None:
    """Crosses on the corners of a tile; neighbours print the same ones where they overlap."""
    canvas.setLineWidth(0.3)
    for x_nm in (tile.x_nm, tile.x_nm + OVERLAP_NM, tile.x_nm + tile.width_nm - OVERLAP_NM,
                 tile.x_nm + tile.width_nm):  # fmt: skip
        for y_nm in (tile.y_nm, tile.y_nm + tile.height_nm):
            x, y = paper.x(x_nm), paper.y(y_nm)
            canvas.line(x - 5, y, x + 5, y)
            canvas.line(x, y - 5, x, y + 5)


def _foot(
    canvas: Canvas, template: Template, tile: Tile, every: Sequence[Tile], heading: str,
    size: tuple[float, float],
) -> None:  # fmt: skip
    """Check lines, title, and which tile of how many."""
    left, base = _points(MARGIN_NM), _points(MARGIN_NM)
    canvas.setLineWidth(0.8)
    canvas.setFont(PLAIN, 8)
    for length, words, up in ((100 * MM, "100 mm", 30), (4 * INCH, "4 in", 14)):
        y, end = base + up, left + _points(length)
        canvas.line(left, y, end, y)
        for x in (left, end):
            canvas.line(x, y - 3, x, y + 3)
        canvas.drawString(end + 5, y - 3, words)
    words, points = _fitting(
        say("Print at 100%, not fitted to the page, and measure both lines before you use this."),
        (PLAIN, 8), size[0] - 2 * left,
    )  # fmt: skip
    canvas.setFont(PLAIN, points)
    canvas.drawString(left, base, words)
    title = template.title
    if len(every) > 1:
        rows = max(t.row for t in every) + 1
        columns = max(t.column for t in every) + 1
        place = say(
            "row {row} of {rows}, column {column} of {columns}",
            row=tile.row + 1, rows=rows, column=tile.column + 1, columns=columns,
        )  # fmt: skip
        title = f"{title} · {place}"
    beside = left + _points(4 * INCH) + 5 + stringWidth("100 mm", PLAIN, 8) + GAP_PT
    room = size[0] - left - beside
    _ending_at(canvas, (size[0] - left, base + 28), heading, (BOLD, 9), room)
    _ending_at(canvas, (size[0] - left, base + 14), title, (PLAIN, 8), room)


def _ending_at(
    canvas: Canvas, end: tuple[float, float], words: str, font: tuple[str, float], room: float
) -> None:
    """Words that end at a place, however little room there is."""
    words, size = _fitting(words, font, room)
    canvas.setFont(font[0], size)
    canvas.drawRightString(*end, words)


def _fitting(words: str, font: tuple[str, float], room: float) -> tuple[str, float]:
    """Words and their size: smaller and then cut off where there is no room."""
    name, size = font
    size = max(min(size, size * room / max(stringWidth(words, name, size), 1)), SMALLEST_PT)
    while stringWidth(words, name, size) > room and len(words) > 1:
        words = words[:-2] + "…"
    return words, size


def _points(nm: int) -> float:
    return float(Fraction(nm) / POINT)


def _mm(nm: int) -> str:
    return f"{nm / MM:.6f}".rstrip("0").rstrip(".")


def template_svg(template: Template, heading: str) -> str:
    """One template as SVG in millimetres, with its check lines below it."""
    flat = template.flat
    width, height = max(flat.width_nm, 110 * MM) + 2 * MM, flat.height_nm + 22 * MM
    shapes = []
    outline = flat.outline or (
        (0, 0), (flat.width_nm, 0), (flat.width_nm, flat.height_nm), (0, flat.height_nm),
    )  # fmt: skip
    points = " ".join(f"{_mm(x)},{_mm(y)}" for x, y in outline)
    shapes.append(f'<polygon class="outline" points="{points}"/>')
    for x1, y1, x2, y2 in flat.folds:
        shapes.append(
            f'<line class="fold" stroke-dasharray="2 1.5" x1="{_mm(x1)}" y1="{_mm(y1)}" '
            f'x2="{_mm(x2)}" y2="{_mm(y2)}"/>'
        )
    for x1, y1, x2, y2 in flat.cuts:
        shapes.append(
            f'<line class="slit" stroke-width="0.5" x1="{_mm(x1)}" y1="{_mm(y1)}" '
            f'x2="{_mm(x2)}" y2="{_mm(y2)}"/>'
        )
    for hole in flat.holes:
        shapes.append(f'<circle class="hole" cx="{_mm(hole.x_nm)}" cy="{_mm(hole.y_nm)}" r="0.5"/>')
    for x, y, words in flat.labels:
        shapes.append(f'<text x="{_mm(x)}" y="{_mm(y)}" font-size="3">{escape(words)}</text>')
    for x, y in flat.eyelets:
        shapes.append(f'<circle class="eyelet" cx="{_mm(x)}" cy="{_mm(y)}" r="1.5"/>')
    for length, words, down in ((100 * MM, "100 mm", 8 * MM), (4 * INCH, "4 in", 14 * MM)):
        y_mm = _mm(flat.height_nm + down)
        shapes.append(f'<line class="check" x1="0" y1="{y_mm}" x2="{_mm(length)}" y2="{y_mm}"/>')
        shapes.append(f'<text x="{_mm(length + MM)}" y="{y_mm}" font-size="3">{words}</text>')
    title = escape(about(heading, template.title))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_mm(width)}mm" height="{_mm(height)}mm" '
        f'viewBox="-1 -1 {_mm(width)} {_mm(height)}" fill="none" stroke="#000" '
        f'stroke-width="0.2" font-family="sans-serif"><title>{title}</title>'
        + "".join(s.replace("<text ", '<text fill="#000" stroke="none" ') for s in shapes)
        + f'<text fill="#000" stroke="none" x="0" y="{_mm(flat.height_nm + 19 * MM)}" '
        f'font-size="3">{title}</text></svg>'
    )
