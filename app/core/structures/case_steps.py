"""Making a block with endpapers and a lined back, its case, and putting one into the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from app.core.length import MM
from app.core.structures.base import BenchStep, Flat
from app.core.structures.cases import REACH_NM, RIBBON_GLUED_NM, ribbon_nm
from app.core.structures.common import PASTES, caution, grain_said, wrapped
from app.core.structures.folio_steps import folio_steps
from app.core.structures.gathering import Gathering
from app.core.structures.stages import CASED, COVER, ENDPAPERS
from app.core.structures.thread import ThreadPath
from app.core.structures.words import later
from app.language import say, say_many, to_say

LINE_NM = 3 * MM
"""How wide paste is laid along the fold of an endpaper."""
PRESSES = to_say(
    "A press crushes: keep fingers clear, and let nobody work it while your hands are in it."
)


@dataclass(frozen=True)
class Sewn:
    """A block as it is sewn: its thread, tapes, how wide the back is, and its arc if rounded."""

    thread: ThreadPath
    tapes: int
    linked: bool
    back_nm: int
    arc_nm: int
    rise_nm: int


def case_steps(
    n: Mapping[str, int], gathering: Gathering, flats: tuple[Flat, ...], sewn: Sewn
) -> tuple[BenchStep, ...]:
    """All steps; ``flats`` are board, spine piece, covering, endpaper and lining of the back."""
    board, strip, covering, endpaper, lining = flats
    return (
        *folio_steps(gathering),
        *_sewn(n, sewn),
        *_end_papers(endpaper, sewn),
        *_back(n, lining, sewn),
        *(replace(step, stage=COVER) for step in _case(n, board, strip, covering, sewn)),
        *(replace(step, stage=CASED) for step in _cased(n, sewn)),
        wrapped(),
    )


def _sewn(n: Mapping[str, int], sewn: Sewn) -> Iterator[BenchStep]:
    if sewn.tapes:
        cut = say_many(
            sewn.tapes,
            "Cut one tape, {tape} each, and fasten them upright at the edge of the bench, where "
            "the stations are, {reach} below its top.",
            "Cut {n} tapes, {tape} each, and fasten them upright at the edge of the bench, where "
            "the stations are, {reach} below its top.",
            **later("tape", "reach"),
        )
        frame = say("For a frame leave them on the reel and cut them so long once it is sewn.")
        tape = sewn.back_nm + 2 * REACH_NM
        yield BenchStep(f"{cut} {frame}", {"reach": REACH_NM}, to_cut={"tape": tape})
    yield BenchStep(
        say(
            "Cut {thread} of thread and wax it; join a second length inside a signature rather "
            "than sew with more than you can pull through."
        ),
        to_cut={"thread": sewn.thread.length_nm},
    )
    along = (
        say("Sew in the order drawn, along the fold inside and outside round every tape.")
        if sewn.tapes
        else say(
            "Sew in the order drawn, along the fold inside and outside from station to station."
        )
    )
    linked = say("From the second signature on link it there under the stitch below.")
    on = say(
        "At the end of the second signature tie the thread to the tail of the first; from the "
        "third on link it under the one before at the kettle, and climb. Pull along the fold, "
        "never across it."
    )
    told = [along, linked, on] if sewn.linked else [along, on]
    yield BenchStep(" ".join(told), shows="thread")
    yield BenchStep(
        say("Knot the thread at the last kettle and trim it.")
        if n["signatures"] > 2
        else say("Trim both tails of that knot.")
    )


def _end_papers(endpaper: Flat, sewn: Sewn) -> Iterator[BenchStep]:
    if sewn.tapes:
        yield BenchStep(
            say(
                "Take it off the bench, draw the tapes even, {reach} left on both sides, and turn "
                "their ends back: they lie outside the endpapers."
            ),
            {"reach": REACH_NM},
        )
    yield BenchStep(
        say(
            "Cut two endpapers {width} wide and {height} high, {grain}, fold each in the middle "
            "and rub the fold down.",
            grain=grain_said(endpaper.grain),
            **later("width", "height"),
        ),
        {"width": endpaper.width_nm, "height": endpaper.height_nm},
        "endpaper",
        stage=ENDPAPERS,
    )
    yield caution(PASTES)
    yield caution(PRESSES)
    yield BenchStep(
        say(
            "Lay {line} of paste along the fold of each endpaper and no more; set one on the first "
            "and one on the last signature, fold on fold, and press between waste sheets until dry."
        ),
        {"line": LINE_NM},
    )


def _back(n: Mapping[str, int], lining: Flat, sewn: Sewn) -> Iterator[BenchStep]:
    yield BenchStep(
        say(
            "Knock the block up at head and back, clamp it between boards with the back flush, and "
            "work glue thinly in between the signatures. Let it dry until it no longer sticks."
        )
    )
    if sewn.rise_nm:
        yield BenchStep(
            say(
                "While the glue still gives, lay the block down and draw the upper edge of the "
                "back towards you with light hammer strokes; turn it over and do the same, until "
                "the back is a third of a circle: {back} over it from edge to edge, and {rise} "
                "high. Put it in the press with the back standing out, and leave it there until it "
                "is lined."
            ),
            {"back": sewn.arc_nm, "rise": sewn.rise_nm},
        )
    if n["ribbons"]:
        yield BenchStep(
            say_many(
                n["ribbons"],
                "Cut one ribbon, {ribbon} each, glue {glued} of each to the head of the back, and "
                "lay the rest between the leaves, out of the glue.",
                "Cut {n} ribbons, {ribbon} each, glue {glued} of each to the head of the back, and "
                "lay the rest between the leaves, out of the glue.",
                **later("ribbon", "glued"),
            ),
            {"glued": RIBBON_GLUED_NM},
            to_cut={"ribbon": ribbon_nm(n)},
        )
    yield BenchStep(
        say(
            "Cut the lining of mull or thin cloth {width} wide and {height} high, {grain}, and "
            "glue it to the back, {reach} left loose on either side, head and tail bare alike.",
            grain=grain_said(lining.grain),
            **later("width", "height", "reach"),
        ),
        {"width": lining.width_nm, "height": lining.height_nm, "reach": REACH_NM},
    )
    if n["headbands"]:
        yield BenchStep(
            say(
                "Cut two headbands, {band} each, and glue to the back at head and tail, the bead "
                "standing on the edges of the leaves. Leave it to dry."
            )
            if n["headbands"] == 2
            else say(
                "Cut a headband, {band}, and glue to the back at the head, the bead standing on "
                "the edges of the leaves. Leave it to dry."
            ),
            {"band": sewn.back_nm},
        )


def _case(
    n: Mapping[str, int], board: Flat, strip: Flat, covering: Flat, sewn: Sewn
) -> Iterator[BenchStep]:
    yield BenchStep(
        say(
            "Cut two boards {width} wide and {height} high, {grain}.",
            grain=grain_said(board.grain),
            **later("width", "height"),
        ),
        {"width": board.width_nm, "height": board.height_nm},
        "board",
    )
    yield BenchStep(
        say(
            "Measure over the back: it should be {back}. If it is not, put what you measured into "
            "the design before you cut on."
        ),
        {"back": sewn.back_nm},
    )
    yield BenchStep(
        say(
            "Cut the spine piece {width} wide and {height} high, {grain}.",
            grain=grain_said(strip.grain),
            **later("width", "height"),
        ),
        {"width": strip.width_nm, "height": strip.height_nm},
        "spine_piece",
    )
    yield BenchStep(
        say(
            "Cut the covering {width} wide and {height} high, {grain}, mark boards, joints and "
            "spine piece by the template, and cut off its corners, {corner} from each along both "
            "edges.",
            grain=grain_said(covering.grain),
            **later("width", "height", "corner"),
        ),
        {
            "width": covering.width_nm,
            "height": covering.height_nm,
            "corner": covering.outline[0][0],
        },
        "covering",
    )
    yield BenchStep(
        say(
            "Paste the covering, wrong side up. Lay the spine piece in its middle and the boards "
            "at {joint} from it, heads in line. Turn in head and tail, nip the corners, then turn "
            "in the sides. Rub everything down and press it flat between waste sheets until dry."
        ),
        {"joint": n["joint"]},
        "covering",
    )


def _cased(n: Mapping[str, int], sewn: Sewn) -> Iterator[BenchStep]:
    if sewn.rise_nm:
        yield BenchStep(say("Draw the spine of the case round a rod until it lies on the back."))
    yield BenchStep(
        say(
            "Try the block in the case: boards {square} past it at head and tail, alike on both "
            "sides."
        ),
        {"square": n["square"]},
    )
    yield caution(PASTES)
    lay = (
        say(
            "Lay the block on the back board where it belongs. Slip a waste sheet under the top "
            "leaf of the upper endpaper, paste down tapes and lining and then the whole leaf, take "
            "the waste sheet out and close the board on it; do not open it again."
        )
        if sewn.tapes
        else say(
            "Lay the block on the back board where it belongs. Slip a waste sheet under the top "
            "leaf of the upper endpaper, paste down the lining and then the whole leaf, take the "
            "waste sheet out and close the board on it; do not open it again."
        )
    )
    turn = say("Turn the book over and do the same on the other side.")
    yield BenchStep(f"{lay} {turn}")
    yield BenchStep(
        say(
            "Work the joints in with a folder and press the book between boards that end at the "
            "joints, overnight and until it is dry."
        )
    )
