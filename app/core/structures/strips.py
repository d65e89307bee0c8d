"""A strip folded to and fro, joined from lengths: its flats and the steps of making it.

Each length has so many panels and a tab that is glued behind the first panel of the next one. A
pocket is a stretch below the panels, folded up along the whole length before it is pleated.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from app.core.length import MM
from app.core.paper import Piece
from app.core.structures.base import (
    Advice,
    BenchStep,
    Dimension,
    Dims,
    Flat,
    Hole,
    Operation,
    Panel,
    upright_folds,
)
from app.core.structures.common import grain_said, piece_of
from app.core.structures.gathering import runs_along_the_fold
from app.core.structures.words import later
from app.language import say, say_many, to_say

STRIP_FOLD = Operation(
    "concertina_fold", to_say("Fold the strip"), "fold", Fraction(1), Fraction(1, 2)
)
TAB = Dimension("tab", to_say("Tab to join them"), to_say("Strip"), "length", 12 * MM, 0, 60 * MM)
POCKET_EDGE_NM = 5 * MM
"""How wide a pocket is glued shut at its ends."""


@dataclass(frozen=True)
class Strip:
    """Panels of one width and height, so many in ``each`` length; ``pocket_nm`` below them.

    ``holes_nm`` are pierced in every second fold, from the first on, so far from the head.
    """

    panels: int
    each: int
    width_nm: int
    height_nm: int
    tab_nm: int
    grain: str | None
    pocket_nm: int = 0
    holes_nm: tuple[int, ...] = ()

    @property
    def lengths(self) -> int:
        """Of how many lengths it is joined."""
        return -(-self.panels // self.in_each)

    @property
    def in_each(self) -> int:
        """Panels of a length that has a tab."""
        return min(self.each, self.panels)

    @property
    def tall_nm(self) -> int:
        """As it is cut, the pocket with it."""
        return self.height_nm + self.pocket_nm

    @property
    def flats(self) -> tuple[Flat, ...]:
        """The lengths with a tab where another follows, and the last without, often shorter."""
        last = self.panels - (self.lengths - 1) * self.in_each
        if self.lengths == 1:
            return (self._flat("strip", say("Length"), last, 0, 1),)
        return (
            self._flat("strip", say("Length"), self.in_each, self.tab_nm, self.lengths - 1),
            self._flat("last", say("Last length"), last, 0, 1),
        )

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The lengths as they are cut."""
        names = {"strip": "length", "last": "last length"}
        return tuple(piece_of(flat, names[flat.key]) for flat in self.flats)

    def _flat(self, key: str, name: str, many: int, tab_nm: int, count: int) -> Flat:
        wide, width = self.width_nm, many * self.width_nm + tab_nm
        panels = [Panel(f"{i + 1}", i * wide, wide) for i in range(many)]
        if tab_nm:
            panels.append(Panel(to_say("tab"), many * wide, tab_nm))
        folds = upright_folds([p.x_nm for p in panels[1:]], self.tall_nm)
        outline: tuple[tuple[int, int], ...] = ()
        if self.pocket_nm:
            # A tab has no pocket, so that it lies flat behind the next panel.
            end, at = many * wide, self.height_nm
            folds += ((0, at, end, at),)
            if tab_nm:
                outline = (
                    (0, 0), (width, 0), (width, at), (end, at), (end, self.tall_nm),
                    (0, self.tall_nm),
                )  # fmt: skip
        return Flat(
            key=key, name=name, stock="leaf", width_nm=width, height_nm=self.tall_nm, folds=folds,
            panels=tuple(panels), grain=self.grain, count=count, outline=outline,
            holes=tuple(
                Hole((2 * row + 1) * wide, y, row, station)
                for row in range(many // 2)
                for station, y in enumerate(self.holes_nm)
            ),
        )  # fmt: skip

    @property
    def joined_nm2(self) -> int:
        """What is glued where lengths are joined, and at both ends of every length's pocket."""
        ends = 2 * self.lengths * POCKET_EDGE_NM * self.pocket_nm
        return (self.lengths - 1) * self.tab_nm * self.height_nm + ends

    def layers_nm(self, caliper_nm: int) -> int:
        """How thick it lies folded up, its tabs with it."""
        layers = self.panels + self.lengths - 1
        return (2 if self.pocket_nm else 1) * layers * caliper_nm

    @property
    def panel_nm2(self) -> int:
        """One panel."""
        return self.width_nm * self.height_nm


def strip_of(dims: Dims, n: Mapping[str, int]) -> Strip:
    """The strip of a concertina whose panels are its leaves."""
    return Strip(
        n["panels"], n["panels_each"], n["leaf_width"], n["leaf_height"], n["tab"],
        runs_along_the_fold(dims, "leaf_grain"), n["pocket"],
    )  # fmt: skip


def strip_advice(strip: Strip, fewer: str) -> list[Advice]:
    """Tabs that come loose, and lengths longer than sheets; ``fewer`` is the dimension to mend."""
    found = []
    if strip.lengths > 1 and strip.tab_nm < 6 * MM:
        found.append(
            Advice(
                say("A tab of {tab} comes loose: give it {mend} or more."),
                {"tab": strip.tab_nm, "mend": 10 * MM},
                "tab",
                grave=True,
            )
        )
    if strip.flats[0].width_nm > 1500 * MM:
        found.append(
            Advice(
                say(
                    "One length is {width} long, longer than most sheets. Put fewer panels into "
                    "each."
                ),
                {"width": strip.flats[0].width_nm},
                fewer,
            )
        )
    return found


def strip_cut(strip: Strip) -> list[BenchStep]:
    """Cutting and folding the lengths."""
    flats, first = strip.flats, strip.flats[0]
    grain = grain_said(strip.grain)
    found = [
        BenchStep(
            say_many(
                first.count,
                "Cut {n} length {width} wide and {height} high, {grain}.",
                "Cut {n} lengths {width} wide and {height} high, {grain}.",
                grain=grain,
                **later("width", "height"),
            ),
            {"width": first.width_nm, "height": first.height_nm},
            "strip",
        )
    ]
    if strip.lengths > 1:
        last = len(flats[-1].panels)
        found.append(
            BenchStep(
                say_many(
                    last,
                    "Cut one more, the last, {width} wide, {grain}: {n} panel and no tab.",
                    "Cut one more, the last, {width} wide, {grain}: {n} panels and no tab.",
                    grain=grain,
                    **later("width"),
                ),
                {"width": flats[-1].width_nm},
                "last",
            )
        )
    if strip.pocket_nm:
        found.append(
            BenchStep(
                say(
                    "Score {pocket} from the tail of every length, right along it and deep, for "
                    "the panels' grain runs across it; cut the tabs off there, fold it up on the "
                    "good side and rub it down: it makes the pockets."
                ),
                {"pocket": strip.pocket_nm},
                "strip",
            )
        )
    found.append(BenchStep(_folding(strip), {"panel": strip.width_nm}, "strip"))
    return found


def strip_joined(strip: Strip) -> list[BenchStep]:
    """Gluing the lengths to one another; the caution comes before, elsewhere."""
    found = []
    if strip.pocket_nm:
        found.append(
            BenchStep(
                say(
                    "Glue the pocket down along both ends of every length, {edge} wide, and press."
                ),
                {"edge": POCKET_EDGE_NM},
            )
        )
    if strip.lengths == 1:
        return found
    return [
        *found,
        BenchStep(
            say(
                "Glue each tab behind the first panel of the next length, the panel's edge to the "
                "tab's fold, and press."
            ),
            shows="strip",
        ),
    ]


def _folding(strip: Strip) -> str:
    """How the lengths are folded so that they go on to and fro where they are joined."""
    turning = say(
        "Fold to and fro every {panel}, turning the strip over at each fold; rub each down."
    )
    if strip.lengths == 1:
        begin = say("Begin with a valley, the good side up.")
    elif strip.each % 2 == 0:
        begin = say("Begin with a valley, the good side up, in every length.")
    else:
        begin = say(
            "Begin with a valley, the good side up in the first length. Each has an odd number of "
            "panels: begin every second length with a mountain, so that the folds still alternate "
            "where they are joined."
        )
    return f"{turning} {begin}"


def to_the_boards(panels: int) -> str:
    """Which faces of the strip lie outside when folded up: the same one if panels are even."""
    glue = say(
        "Fold the strip up and glue the outward face of its first and of its last panel to the "
        "inside of a board each."
    )
    faces = (
        say("They are the same face of the strip.")
        if panels % 2 == 0
        else say("With an odd number of panels they are opposite faces of the strip.")
    )
    leave = say(
        "Leave {square} at head and tail and {side} at both sides, and press overnight between "
        "waste sheets."
    )
    return f"{glue} {faces} {leave}"
