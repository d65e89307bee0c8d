"""The thread's way drawn step by step, and said aloud, from the same points it is measured by."""

from __future__ import annotations

import itertools

from app.core.length import Show
from app.core.structures.thread import Stitch, ThreadPath
from app.documents.svg import Canvas
from app.language import say, say_many, to_say

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
    thread = (show_cut or show)(path.length_nm)
    return canvas.picture(key, say("The thread's way"), _in_words(path, len(rows), thread))


DASHED = {
    "inside": to_say("Dashed stretches lie inside."),
    "under": to_say("Dashed stretches lie under the stitch they come to."),
    "back": to_say("Dashed stretches lie on the back."),
}
"""What is dashed, by the second of a path's sides."""


def _in_words(path: ThreadPath, rows: int, thread: str) -> str:
    steps, places = len(path.points) - 1, {"rows": rows, "thread": thread}
    way = (
        say_many(
            steps,
            "{n} step through {rows} row; {thread} of thread with its tails.",
            "{n} steps through {rows} row; {thread} of thread with its tails.",
            **places,
        )
        if rows == 1
        else say_many(
            steps,
            "{n} step through {rows} rows; {thread} of thread with its tails.",
            "{n} steps through {rows} rows; {thread} of thread with its tails.",
            **places,
        )
    )
    return f"{way} {say(DASHED[path.sides[1]])}"


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


BEGIN = {
    "outside": to_say("Begin outside at {where}, a tail of {tail} left."),
    "inside": to_say("Begin inside at {where}, a tail of {tail} left."),
    "leaves": to_say("Begin between the leaves at {where}, a tail of {tail} left."),
    "over": to_say("Begin over the stitch of row {row}, a tail of {tail} left."),
    "under": to_say("Begin under the stitch of row {row}, a tail of {tail} left."),
}
WEAVE = {
    "over": to_say("Over the stitch of row {row}."),
    "under": to_say("Under the stitch of row {row}."),
}
ALONG = {
    "outside": to_say("Along the outside to {where}, {length}."),
    "inside": to_say("Along the inside to {where}, {length}."),
    "front": to_say("Along the front to {where}, {length}."),
    "back": to_say("Along the back to {where}, {length}."),
}
ACROSS = {
    "outside": to_say("Across on the outside to {where}."),
    "inside": to_say("Across on the inside to {where}."),
    "front": to_say("Across on the front to {where}."),
    "back": to_say("Across on the back to {where}."),
}
THROUGH = {
    "front": to_say("Through to the front at {where}."),
    "back": to_say("Through to the back at {where}."),
}
OUT = {
    "front": to_say("Out to the front at {where}."),
    "back": to_say("Out to the back at {where}."),
}
BACK = {
    "outside": to_say("Back to {where} on the outside."),
    "inside": to_say("Back to {where} on the inside."),
    "front": to_say("Back to {where} on the front."),
    "back": to_say("Back to {where} on the back."),
}
"""What a step does, by the side it is on or comes to."""
TO_EDGE = {
    "spine": to_say("To the spine."),
    "head": to_say("To the head."),
    "tail": to_say("To the tail."),
}
ROUND_EDGE = {
    "spine": to_say("Round the spine."),
    "head": to_say("Round the head."),
    "tail": to_say("Round the tail."),
}


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
        begin = BEGIN["leaves" if first.over == "leaves" else self._side(first)]
        said = [say(begin, where=self._where(first), row=first.row + 1, tail=tail)]
        steps = zip(path.points, path.points[1:], path.steps, strict=False)
        said += [self._step(a, b, step) for a, b, step in steps]
        said.append(say("Leave a tail of {tail}.", tail=tail))
        return said

    def _where(self, p: Stitch) -> str:
        station = p.station + 1
        if not self.several:
            return say("station {station}", station=station)
        if self.path.row_names:
            row = self.path.row_names[p.row]
            return say("station {station} of {row}", station=station, row=row)
        return say("station {station} of row {row}", station=station, row=p.row + 1)

    def _side(self, p: Stitch) -> str:
        return self.path.sides[1 if p.inside else 0]

    def _step(self, a: Stitch, b: Stitch, step: tuple[int, int, int]) -> str:
        if a.over or b.over:
            return self._round_something(a, b)
        to = self._where(b)
        if (a.row, a.station) == (b.row, b.station):
            if self.path.sides != ("outside", "inside"):
                return say(THROUGH[self._side(b)], where=to)
            return say("Out at {where}.", where=to) if a.inside else say("In at {where}.", where=to)
        if a.row != b.row:
            return say(ACROSS[self._side(a)], where=to)
        return say(ALONG[self._side(a)], where=to, length=self.show(step[1]))

    def _round_something(self, a: Stitch, b: Stitch) -> str:
        to = self._where(b)
        if a.over == "leaves":
            return say(OUT[self._side(b)], where=to)
        if b.over == "leaves":
            return say("In at {where}, to between the leaves.", where=to)
        if b.over == "board":
            return _round_a_board(b)
        if a.over == "board":
            return say("Back to the fold at {where}.", where=to)
        if b.over == "stitch":
            return say(WEAVE[self._side(b)], row=b.row + 1)
        if b.over in ("below", "tie", "kettle", "link"):
            return self._linked(b)
        if a.over in ("link", "below", "kettle"):
            return say("Up again to {where}.", where=to)
        if a.over == "tie":
            return say("Across on the outside to {where}.", where=to)
        if b.over:
            return say((TO_EDGE if a.over != b.over else ROUND_EDGE)[b.over])
        return say(BACK[self._side(b)], where=to)

    def _linked(self, b: Stitch) -> str:
        """Round a thread that is sewn already."""
        names = self.path.row_names
        if b.over == "below":
            return say("Link under the stitch below, that of {row}.", row=names[b.row])
        if b.over == "tie":
            return say("Tie to the tail of {row}.", row=names[0])
        if b.over == "kettle":
            lower, upper = names[b.row - 1 : b.row + 1]
            return say(
                "Link under the thread that joins {lower} and {upper}.", lower=lower, upper=upper
            )
        return say("Link round the stitches of {where}.", where=self._where(b))


def _round_a_board(b: Stitch) -> str:
    """Over the edge of a board, the front one being sewn before all signatures, and in again."""
    if b.inside:
        return say("In through the board's hole.")
    if b.row:
        return say("Go out over the edge of the back board.")
    return say("Go out over the edge of the front board.")
