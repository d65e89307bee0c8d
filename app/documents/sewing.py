"""The thread's way drawn step by step, and said aloud, from the same points it is measured by."""

from __future__ import annotations

import itertools

from app.core.length import Show
from app.core.structures.thread import Stitch, ThreadPath
from app.documents.svg import Canvas

TOP, HIGH, LEFT, ROW_GAP, ASIDE = 26.0, 300.0, 104.0, 124.0, 22.0
A_STEP, FIGURE_WIDE, FIGURE_HIGH, CLEAR = 60.0, 7.4, 12.0, 1.0
"""Room for a stretch between stations; a figure's size on the drawing, and what keeps two apart."""
Box = tuple[float, float, float, float]


def thread_drawing(path: ThreadPath, show: Show, key: str, show_cut: Show | None = None) -> str:
    """Rows side by side, stations down them; each step numbered, dashed where it is inside.

    Steps carry the class ``step-n`` so that a page can show them one after another. ``show_cut``
    says the length to cut.
    """
    rows = _rows(path)
    places = sorted({q[1] for q in path.places})
    span = max(places[-1] - places[0], 1)
    across = {row: LEFT + i * ROW_GAP for i, row in enumerate(rows)}
    high = max(HIGH, A_STEP * len(places) * (2 if any(p.over for p in path.points) else 1))
    canvas = Canvas(LEFT + (len(rows) - 1) * ROW_GAP + 100, TOP + high + 38)

    def y(nm: int) -> float:
        return TOP + (nm - places[0]) / span * high

    def at(p: Stitch, place: tuple[int, int, int]) -> tuple[float, float]:
        # Inside runs left of the fold, outside right of it, so that both can be followed.
        if not p.over:
            return across[p.row] + (-ASIDE if p.inside else ASIDE), y(place[1])
        # A board's edge lies past its holes, away from the signatures.
        edge = 0 if p.inside else (-ASIDE if p.row == rows[0] else ASIDE)
        asides = {"stitch": 0.0, "spine": -ASIDE - 26, "board": edge}
        asides |= dict.fromkeys(("link", "below", "kettle", "tie"), ASIDE + 14)
        aside = asides.get(p.over, ASIDE + 30)
        beside = 0 if p.over == "stitch" else 9
        return across[p.row] + aside, y(place[1]) + (beside if p.inside else -beside)

    taken: list[Box] = []
    for row in rows:
        canvas.line(across[row], TOP - 10, across[row], TOP + high + 10, "fold")
        if path.row_names:
            canvas.words(across[row], TOP - 14, path.row_names[row], "figure")
            taken.append(_box(across[row], TOP - 14, path.row_names[row]))
    for stitch, place in zip(path.points, path.places, strict=True):
        if not stitch.over or stitch.over == "board":
            canvas.dot(across[stitch.row], y(place[1]), 2.4, "hole")
    for nm in sorted({q[1] for p, q in zip(path.points, path.places, strict=True) if not p.over}):
        canvas.words(LEFT - 66, y(nm) + 4, show(nm), "figure")
        taken.append(_box(LEFT - 66, y(nm) + 4, show(nm)))
    pairs = [(at(p, q), p.inside) for p, q in zip(path.points, path.places, strict=True)]
    for number, (((x1, y1), a_inside), ((x2, y2), b_inside)) in enumerate(
        itertools.pairwise(pairs), 1
    ):
        # A woven thread is dashed where it goes down, under the stitch it comes to.
        inside = b_inside if path.sides == WOVEN else a_inside and b_inside
        canvas.line(x1, y1, x2, y2, f"thread-step {'within' if inside else ''} step-{number}")
        x, down = _free_place((x1, y1, x2, y2), str(number), taken, inside=inside)
        taken.append(_box(x, down, str(number)))
        canvas.words(x, down, str(number), f"step-number step-{number}")
    return canvas.picture(
        key, "The thread's way",
        f"{len(path.points) - 1} steps through {len(rows)} row{'' if len(rows) == 1 else 's'}; "
        f"{(show_cut or show)(path.length_nm)} of thread with its tails. Dashed stretches lie "
        + (
            "inside."
            if path.sides[1] == "inside"
            else "under the stitch they come to."
            if path.sides == WOVEN
            else f"on the {path.sides[1]}."
        ),
    )  # fmt: skip


def _rows(path: ThreadPath) -> list[int]:
    """The rows as they lie across the spine."""
    across: dict[int, int] = {}
    for stitch, place in zip(path.points, path.places, strict=True):
        across[stitch.row] = max(place[0], across.get(stitch.row, place[0]))
    return sorted(across, key=lambda row: (across[row], row))


def _box(x: float, y: float, words: str) -> Box:
    """Where words centred on x with their foot at y lie."""
    half = FIGURE_WIDE * len(words) / 2 + CLEAR
    return x - half, y - FIGURE_HIGH + 2, x + half, y + 2


def _free_place(step: Box, words: str, taken: list[Box], *, inside: bool) -> tuple[float, float]:
    """The place nearest to the middle of a step where its number covers no other figure."""
    x1, y1, x2, y2 = step
    side = -1 if inside else 1
    best, least = (0.0, 0.0), float("inf")
    for share, out, turn in itertools.product(SHARES, OUTWARDS, (side, -side)):
        x = x1 + (x2 - x1) * share + turn * out
        y = y1 + (y2 - y1) * share + 4
        box = _box(x, y, words)
        covered = sum(_shared(box, other) for other in taken)
        if not covered:
            return x, y
        if covered < least:
            best, least = (x, y), covered
    return best


WOVEN = ("over", "under")
"""The sides of a thread woven across others."""
SHARES = (0.5, 0.35, 0.65, 0.2, 0.8, 0.05, 0.95, -0.1, 1.1, -0.25, 1.25)
OUTWARDS = (9.0, 14.0, 19.0, 24.0, 29.0, 34.0, 39.0, 44.0)
"""Where along a step its number may stand, and how far beside it."""


def _shared(a: Box, b: Box) -> float:
    """The area two boxes share."""
    wide = min(a[2], b[2]) - max(a[0], b[0])
    high = min(a[3], b[3]) - max(a[1], b[1])
    return wide * high if wide > 0 and high > 0 else 0.0


EDGES = {"spine": "the spine", "head": "the head", "tail": "the tail"}


def spoken(path: ThreadPath, show: Show) -> list[str]:
    """The thread's way in short sentences, one a step, stations counted from 1 at the head.

    The first sentence is where it begins; the n-th after it is the n-th step drawn.
    """
    return _Speaker(path, show).sentences()


class _Speaker:
    def __init__(self, path: ThreadPath, show: Show) -> None:
        self.path, self.show = path, show
        self.several = len({p.row for p in path.points if not p.over}) > 1

    def sentences(self) -> list[str]:
        """Where it begins, every step, and the end."""
        path, first = self.path, self.path.points[0]
        tail = self.show(path.tail_nm)
        begin = "between the leaves" if first.over == "leaves" else self._side(first)
        where = f"at {self._where(first)}"
        if first.over == "stitch":
            where = f"the stitch of row {first.row + 1}"
        said = [f"Begin {begin} {where}, a tail of {tail} left."]
        steps = zip(path.points, path.points[1:], path.steps, strict=False)
        said += [self._step(a, b, step) for a, b, step in steps]
        said.append(f"Leave a tail of {tail}.")
        return said

    def _where(self, p: Stitch) -> str:
        if not self.several:
            return f"station {p.station + 1}"
        names = self.path.row_names
        row = names[p.row] if names else f"row {p.row + 1}"
        return f"station {p.station + 1} of {row}"

    def _side(self, p: Stitch) -> str:
        return self.path.sides[1 if p.inside else 0]

    def _step(self, a: Stitch, b: Stitch, step: tuple[int, int, int]) -> str:
        if a.over or b.over:
            return self._round_something(a, b)
        to = self._where(b)
        through = self.path.sides != ("outside", "inside")
        if (a.row, a.station) == (b.row, b.station):
            if through:
                return f"Through to the {self._side(b)} at {to}."
            return f"{'Out' if a.inside else 'In'} at {to}."
        if a.row != b.row:
            return f"Across on the {self._side(a)} to {to}."
        return f"Along the {self._side(a)} to {to}, {self.show(step[1])}."

    def _round_something(self, a: Stitch, b: Stitch) -> str:
        to = self._where(b)
        if a.over == "leaves":
            return f"Out to the {self._side(b)} at {to}."
        if b.over == "leaves":
            return f"In at {to}, to between the leaves."
        if b.over == "board":
            if b.inside:
                return "In through the board's hole."
            name = self.path.row_names[b.row] if self.path.row_names else "board"
            return f"Go out over the edge of the {name}."
        if a.over == "board":
            return f"Back to the fold at {to}."
        if b.over == "stitch":
            return f"{self._side(b).capitalize()} the stitch of row {b.row + 1}."
        if b.over == "below":
            return f"Link under the stitch below, that of {self.path.row_names[b.row]}."
        if b.over == "tie":
            return f"Tie to the tail of {self.path.row_names[0]}."
        if b.over == "kettle":
            lower, upper = self.path.row_names[b.row - 1 : b.row + 1]
            return f"Link under the thread that joins {lower} and {upper}."
        if b.over == "link":
            return f"Link round the stitches of {self._where(b)}."
        if a.over in ("link", "below", "kettle"):
            return f"Up again to {to}."
        if a.over == "tie":
            return f"Across on the outside to {to}."
        if b.over:
            return f"To {EDGES[b.over]}." if a.over != b.over else f"Round {EDGES[b.over]}."
        return f"Back to {to} on the {self._side(b)}."
