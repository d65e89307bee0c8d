"""The thread's way drawn step by step, and said aloud, from the same points it is measured by."""

from __future__ import annotations

import itertools

from app.core.length import Show
from app.core.structures.base import Stitch, ThreadPath
from app.documents.svg import Canvas

TOP, HIGH, LEFT, ROW_GAP, ASIDE = 22.0, 280.0, 96.0, 92.0, 17.0


def thread_drawing(path: ThreadPath, show: Show, key: str) -> str:
    """Rows side by side, stations down them; each step numbered, dashed where it is inside.

    Steps carry the class ``step-n`` so that a page can show them one after another.
    """
    rows = sorted({p.row for p in path.points})
    places = sorted({q[1] for q in path.places})
    span = max(places[-1] - places[0], 1)
    across = {row: LEFT + i * ROW_GAP for i, row in enumerate(rows)}
    canvas = Canvas(LEFT + (len(rows) - 1) * ROW_GAP + 84, TOP + HIGH + 34)

    def y(nm: int) -> float:
        return TOP + (nm - places[0]) / span * HIGH

    def at(p: Stitch, place: tuple[int, int, int]) -> tuple[float, float]:
        # Inside runs left of the fold, outside right of it, so that both can be followed.
        if not p.over:
            return across[p.row] + (-ASIDE if p.inside else ASIDE), y(place[1])
        aside = {"link": ASIDE + 8, "spine": -ASIDE - 22}.get(p.over, ASIDE + 22)
        return across[p.row] + aside, y(place[1]) + (5 if p.inside else -5)

    for row in rows:
        canvas.line(across[row], TOP - 10, across[row], TOP + HIGH + 10, "fold")
    for stitch, place in zip(path.points, path.places, strict=True):
        if not stitch.over:
            canvas.dot(across[stitch.row], y(place[1]), 2.4, "hole")
    for nm in sorted({q[1] for p, q in zip(path.points, path.places, strict=True) if not p.over}):
        canvas.words(LEFT - 62, y(nm) + 4, show(nm), "figure")
    pairs = list(zip(path.points, path.places, strict=True))
    for number, ((a, pa), (b, pb)) in enumerate(itertools.pairwise(pairs), 1):
        (x1, y1), (x2, y2) = at(a, pa), at(b, pb)
        inside = a.inside and b.inside
        canvas.line(x1, y1, x2, y2, f"thread-step {'within' if inside else ''} step-{number}")
        if abs(y1 - y2) > 12 or abs(x1 - x2) > 12:
            nudge = -9 if inside else 9
            canvas.words(
                (x1 + x2) / 2 + nudge, (y1 + y2) / 2 + 3, str(number), f"step-number step-{number}"
            )
    return canvas.picture(
        key, "The thread's way",
        f"{len(path.points) - 1} steps through {len(rows)} row{'' if len(rows) == 1 else 's'}; "
        f"{show(path.length_nm)} of thread with its tails. Dashed stretches lie inside.",
    )  # fmt: skip


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
        said = [f"Begin {begin} at {self._where(first)}, a tail of {tail} left."]
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
        if b.over == "link":
            return f"Link round the stitches of {self._where(b)}."
        if a.over == "link":
            return f"Up again to {to}."
        if b.over:
            return f"To {EDGES[b.over]}." if a.over != b.over else f"Round {EDGES[b.over]}."
        return f"Back to {to} on the {self._side(b)}."
