"""What keeps a journal closed: what every closing has in common, and how one is put on.

A closing is one module of :mod:`closings` holding a ``CLOSING``. From a journal without one it says
what it takes, where its holes lie, how it is fitted and what to mind. Lengths follow the girth of
the closed journal; how far holes lie from edges is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from app.core.length import MM
from app.core.structures.advice import EDGE_NM
from app.core.structures.base import (
    Advice,
    BenchStep,
    Build,
    Dimension,
    Dims,
    Flat,
    Line,
    Operation,
    Panel,
    PaperFacts,
    Role,
    Structure,
    length_of,
)
from app.core.structures.common import AWLS, caution
from app.core.structures.stages import CASED, COVER, INSIDE, after_stage, before_inside
from app.core.structures.words import altered, each, one, said_when_read, unsaid
from app.language import say, to_say

KEY, GROUP, NONE = "closing", to_say("Closing"), "none"
INSET_NM = 10 * MM
"""From an edge to the middle of a hole that a closing pulls at."""
SNARE = to_say("A long cord or tie is a snare: keep it from small children.")
Places = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Fitting:
    """A journal that a closing is to be put on, with the closing's own dimensions."""

    build: Build
    dims: Dims

    def chosen(self, key: str) -> int:
        """A length or a count of the closing."""
        return length_of(self.dims, key)

    @property
    def girth_nm(self) -> int:
        """Once round the closed journal, across it: both sides, the spine and the fore edge."""
        build = self.build
        return 2 * build.closed_width_nm + build.thickness_nm + build.edge_nm

    @property
    def cover(self) -> Flat | None:
        """A cover in one piece from front to back."""
        flat = self.build.cover
        return flat if flat is not None and flat.panel("back") else None

    def panel(self, key: str) -> Panel | None:
        """A panel of the one-piece cover."""
        return self.cover.panel(key) if self.cover else None

    @property
    def loose(self) -> Flat | None:
        """One of two covers or boards, the spine at its left."""
        return None if self.cover else self.build.cover or self.build.flat("board")

    @property
    def outside(self) -> Flat:
        """The cover in one piece, or one of two covers or boards."""
        return self.cover or next(f for f in self.build.flats if f.key in ("cover", "board"))

    @property
    def back(self) -> Panel:
        """Where the back lies in it; the whole of a cover or a board of its own."""
        return self.panel("back") or Panel(to_say("back"), 0, self.outside.width_nm)

    def in_the_back(self, places: Places) -> dict[str, Any]:
        """Holes of the back alone, said beside them where front and back are cut alike."""
        key = self.outside.key
        beside = tuple((x, y + 9 * MM, say("back only")) for x, y in places[:1])
        return {"holes": {key: places}, "labels": {key: beside} if self.loose else {}}

    def heights(self, count: int) -> tuple[int, ...]:
        """So many places evenly down the closed journal."""
        height = self.build.closed_height_nm
        return tuple(height * (n + 1) // (count + 1) for n in range(count))

    @property
    def of_boards(self) -> bool:
        """Whether its halves are boards, which an awl hardly goes through."""
        return self.build.flat("board") is not None

    @property
    def pasted_over(self) -> bool:
        """Whether what is knotted inside is pasted over afterwards, and would leave a lump."""
        return any(step.stage in (CASED, INSIDE) for step in self.build.steps)

    def at_fore_edges(self, heights: tuple[int, ...]) -> dict[str, Places]:
        """Holes at both fore edges, so far from the head: of front and of back or its flap.

        With a flap those of the front lie past the edge of it.
        """
        cover, loose = self.cover, self.loose
        if cover is not None:
            last = self.panel("flap") or self.panel("back")
            inset = min(INSET_NM, last.width_nm // 2) if last else INSET_NM
            ends = (self.build.flap_reach_nm + INSET_NM, cover.width_nm - inset)
            return {cover.key: tuple((x, y) for x in ends for y in heights)}
        if loose is not None:
            return {loose.key: tuple((loose.width_nm - INSET_NM, y) for y in heights)}
        return {}

    def at_flap(self) -> Places:
        """The hole in the middle of the flap, by what is left past its last score."""
        cover, flap = self.cover, self.panel("flap")
        if cover is None:
            return ()
        third = max(flap.width_nm // 3, EDGE_NM) if flap else EDGE_NM
        return ((cover.width_nm - min(INSET_NM, third), cover.height_nm // 2),)

    def across_the_flap(self, apart_nm: int) -> tuple[Places, int]:
        """The hole of the flap and one so far past it in the front, when the flap is closed.

        And how far the latter lies from the fore edge of the front.
        """
        [at_flap] = self.at_flap()
        cover = self.outside
        front = self.build.flap_reach_nm - (cover.width_nm - at_flap[0]) + apart_nm
        return (at_flap, (min(front, self.build.closed_width_nm), cover.height_nm // 2)), front


@dataclass(frozen=True)
class Added:
    """What a closing adds to a journal; holes and labels by the flat they are in.

    ``lines`` and ``dots`` draw it on the closed front, from the head of the spine.
    """

    lengths: Mapping[str, int] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)
    operations: Mapping[str, int] = field(default_factory=dict)
    holes: Mapping[str, Places] = field(default_factory=dict)
    labels: Mapping[str, tuple[tuple[int, int, str], ...]] = field(default_factory=dict)
    steps: tuple[BenchStep, ...] = ()
    advice: tuple[Advice, ...] = ()
    punches: tuple[BenchStep, ...] = ()
    """Steps for its holes, taken while cover or boards lie flat; ``steps`` come after the press."""
    last: bool = False
    """Whether it is put on last of all, and not knotted inside before anything is pasted there."""
    lines: tuple[Line, ...] = ()
    dots: Places = ()


@said_when_read(name=one, cautions=each)
@dataclass(frozen=True)
class Closing:
    """A way of keeping a journal closed; ``fits`` says to which structures it can be put."""

    key: str
    name: str
    fits: Callable[[Structure], bool]
    dimensions: tuple[Dimension, ...]
    roles: tuple[Role, ...]
    operations: tuple[Operation, ...]
    put_on: Callable[[Fitting], Added]
    cautions: tuple[str, ...] = ()


def has_covers(structure: Structure) -> bool:
    """Whether there is a cover, or boards, to put a closing on."""
    return any(role.key in ("cover", "boards") for role in structure.roles)


def has_flap(structure: Structure) -> bool:
    """Whether its cover can have a flap."""
    return has_covers(structure) and any(d.key == "flap" for d in structure.dimensions)


def no_flap(missing: str) -> Advice:
    """A closing that needs a flap where there is none, which ``missing`` says."""
    mend = say("Give the flap {mend}, or choose another closing.")
    return Advice(f"{missing} {mend}", {"mend": 50 * MM}, "flap", grave=True)


def no_room(fitting: Fitting, front_nm: int, field: str = "flap") -> tuple[Advice, ...]:
    """Where something on the front would lie so far from its fore edge that it is off it."""
    width = fitting.build.closed_width_nm
    if front_nm <= width - EDGE_NM:
        return ()
    return (
        Advice(
            say(
                "What is fixed on the front would lie {at} from its fore edge; the front is "
                "{front} wide. Make the flap narrower, or bring it closer to the flap."
            ),
            {"at": front_nm, "front": width},
            field,
            grave=True,
        ),
    )


def with_closing(structure: Structure, closings: Mapping[str, Closing], asked: object) -> Structure:
    """A structure with the closing asked for; with its own first one where that does not fit."""
    fitting = {key: closing for key, closing in closings.items() if closing.fits(structure)}
    if not has_covers(structure):
        return structure
    key = str(asked) if str(asked) in (*fitting, NONE) else structure.closing
    which = Dimension(
        KEY, to_say("Closed with"), GROUP, "choice", structure.closing, optional=True,
        choices=(
            (NONE, to_say("nothing")), *((c.key, unsaid(c, "name")) for c in fitting.values())
        ),
    )  # fmt: skip
    closing = fitting.get(key)
    if closing is None:
        return altered(structure, dimensions=(*structure.dimensions, which))

    def build(dims: Dims, papers: Mapping[str, PaperFacts]) -> Build:
        whole = closed.complete(dims)
        made = structure.build(whole, papers)
        return _put_on(made, closing.put_on(Fitting(made, whole)))

    closed = altered(
        structure,
        dimensions=(*structure.dimensions, which, *closing.dimensions),
        roles=(*structure.roles, *closing.roles),
        operations=tuple(dict.fromkeys((*structure.operations, *closing.operations))),
        cautions=(*unsaid(structure, "cautions"), *unsaid(closing, "cautions")),
        build=build,
    )
    return closed


@dataclass(frozen=True)
class Punching:
    """Marked steps that punch what a closing needs: in boards, in covers, in a cover laid flat."""

    boards: str = ""
    covers: str = ""
    flat: str = ""


HOLES = Punching(
    to_say("Punch the holes of the closing in the boards by the template; an awl only marks a "
           "thick board: drill it."),
    to_say("Punch the holes of the closing in the covers by the template."),
    to_say("While the cover lies flat, inside up, punch the holes of the closing by the template, "
           "on a board."),
)  # fmt: skip


def punched(fitting: Fitting, which: Punching = HOLES) -> BenchStep:
    """The step that punches what a closing needs, before the cover is folded or sewn."""
    if fitting.loose:
        text = which.boards if fitting.of_boards else which.covers
        return BenchStep(say(text), shows=fitting.loose.key)
    return BenchStep(say(which.flat), shows="cover")


def _put_on(build: Build, added: Added) -> Build:
    """A journal with its closing: fitted after the press, before it is wrapped up."""
    operations = dict(build.operations)
    for key, count in added.operations.items():
        if count:
            operations[key] = operations.get(key, 0) + count
    flats = tuple(
        replace(
            flat,
            eyelets=(*flat.eyelets, *added.holes.get(flat.key, ())),
            labels=(*flat.labels, *added.labels.get(flat.key, ())),
        )
        for flat in build.flats
    )
    steps = after_stage(build.steps, COVER, _cautioned(build, added.punches))
    if added.last:
        steps = (*steps[:-1], *added.steps, *steps[-1:])
    else:
        steps = before_inside(steps, added.steps)
    return replace(
        build,
        lengths={**build.lengths, **added.lengths},
        counts={**build.counts, **added.counts},
        operations=operations,
        flats=flats,
        advice=(*build.advice, *added.advice, *_cut_away(flats)),
        steps=steps,
        closing_lines=added.lines,
        closing_dots=added.dots,
    )


def _cautioned(build: Build, punches: tuple[BenchStep, ...]) -> tuple[BenchStep, ...]:
    """What is punched, after the caution about awls where none has been given by then."""
    said = [at for at, step in enumerate(build.steps) if step.text == say(AWLS)]
    flat = [at for at, step in enumerate(build.steps) if step.stage == COVER]
    if not punches or (said and flat and said[0] in range(flat[-1])):
        return punches
    return (caution(AWLS), *punches)


def _cut_away(flats: tuple[Flat, ...]) -> Iterator[Advice]:
    """A hole that lies in a corner that is cut away, or too near to its cut."""
    for flat in flats:
        if (
            flat.key != "covering"
            and flat.outline
            and any(not clear_of(flat.outline, place) for place in flat.eyelets)
        ):
            yield Advice(
                say(
                    "A hole of the closing lies in a corner that is cut away, or closer than "
                    "{edge} to the cut, and tears. Take less off the corners, or move the hole."
                ),
                {"edge": EDGE_NM},
                "corner_size",
                grave=True,
            )


def clear_of(outline: Places, place: tuple[int, int]) -> bool:
    """Whether a place within a bulging outline, given clockwise, keeps clear of all its edges."""
    x, y = place
    for (ax, ay), (bx, by) in pairwise((*outline, outline[0])):
        across, along = bx - ax, by - ay
        inside = across * (y - ay) - along * (x - ax)
        if inside < 0 or inside**2 < EDGE_NM**2 * (across**2 + along**2):
            return False
    return True
