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
    """The thread's way in short sentences, one a step, stations counted from 1 at the head."""
    several = len({p.row for p in path.points if not p.over}) > 1
    first = path.points[0]
    side = "inside" if first.inside else "outside"
    said = [
        f"Begin {side} at {_where(first, several=several)}, a tail of {show(path.tail_nm)} left."
    ]
    for a, b, step in zip(path.points, path.points[1:], path.steps, strict=False):
        said.append(_step(a, b, step, show, several=several))
    said.append(f"Leave a tail of {show(path.tail_nm)}.")
    return said


def _where(p: Stitch, *, several: bool) -> str:
    return f"station {p.station + 1}" + (f" of row {p.row + 1}" if several else "")


def _step(a: Stitch, b: Stitch, step: tuple[int, int, int], show: Show, *, several: bool) -> str:
    to = _where(b, several=several)
    if b.over == "board":
        return "Go out over the board's edge." if not b.inside else "In through the board's hole."
    if a.over == "board":
        return f"Back to the fold at {to}."
    if b.over == "link":
        return "Link round the stitches below."
    if a.over == "link":
        return f"Up again to {to}."
    if b.over:
        return f"To {EDGES[b.over]}." if a.over != b.over else f"Round {EDGES[b.over]}."
    if a.over:
        return f"Back to {to} on the other side."
    if (a.row, a.station) == (b.row, b.station):
        return f"{'Out' if a.inside else 'In'} at {to}."
    side = "inside" if a.inside else "outside"
    if a.row != b.row:
        return f"Across on the {side} to {to}."
    return f"Along the {side} to {to}, {show(step[1])}."
