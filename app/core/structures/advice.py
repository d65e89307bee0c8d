"""Warnings about folded, sewn and tied journals, each with its figure and a fix.

``n`` holds a structure's lengths and counts by the keys that the wrap cover gives them.
"""

from __future__ import annotations

from collections.abc import Mapping

from app.core.length import INCH, METRE, MM
from app.core.structures.base import Advice, Dims, Flat
from app.core.structures.folio_kinds import key_of
from app.core.structures.gathering import FolioKind, Gathering, in_braces
from app.core.structures.thread import ThreadPath
from app.core.structures.words import later
from app.language import about, say, say_many, to_say

HOLE_NM = 3 * MM // 2
"""Diameter of an awl's hole; rows closer than this tear into one another."""
EDGE_NM = 6 * MM
"""Least distance of a hole from an edge before the paper tears."""
FOLDABLE_NM = 5 * MM // 2
"""Thickest fold of nested folios that still folds and punches cleanly: a rule of thumb."""
CREEP_NM = 1 * MM
LEAST_HELD = 2
"""Stations that a folio must have to stay in its fold (common practice, no source)."""
LOOSE_NM = 13 * MM // 4
"""Rows as close as this are never too far apart: an eighth of an inch is common practice."""
GAPING_NM = 10 * MM
"""A spine wider than its block by more than this is said to gape: a rule of thumb."""
FIVE_STATIONS_NM = 7 * INCH
"""From this height on manuals punch five stations, below it three."""
WORKABLE_THREAD_NM = 3 * METRE // 2


ACROSS = {
    "leaves": to_say("The grain of the leaves may run either way"),
    "cover": to_say("The grain of the cover may run either way"),
    "strip": to_say("The grain of the strip may run either way"),
    "sheet": to_say("The grain of the sheet may run either way"),
    "card": to_say("The grain of the card may run either way"),
}
"""What is said of a part with folds, by the part."""


def across_the_grain(found: str, field: str) -> Advice:
    """What was ``found`` of a grain, why it matters, and what to choose."""
    why = say("a fold across the grain cracks and will not lie flat.")
    mend = say("Choose “along the fold” where the paper has a grain.")
    return Advice(f"{about(found, why)} {mend}", field=field)


def grain_advice(dims: Dims, gathering: Gathering | None = None, **folded: str) -> list[Advice]:
    """A warning for each part whose grain may run either way, named by its dimension."""
    found = [
        across_the_grain(say(ACROSS[part]), key)
        for key, part in folded.items()
        if dims[key] == "free"
    ]
    return found + [
        across_the_grain(
            say("The grain of the folios of {paper} may run either way", paper=kind.name),
            key_of(kind.number, "grain"),
        )
        for kind in (gathering.kinds[1:] if gathering else ())
        if kind.grain is None
    ]


def all_advice(
    n: Mapping[str, int],
    gathering: Gathering,
    cover: Flat,
    spine_nm: int,
    thickness_nm: int,
    thread: tuple[ThreadPath, ...],
) -> list[Advice]:
    """All warnings about a wrap cover; ``spine_nm`` is what block and cover need of the spine."""
    return [
        *cover_advice(n, cover, spine_nm, gathering.thickest_nm, thickness_nm),
        *hole_advice(n, gathering.folio),
        *fold_advice(n, gathering),
        *length_advice(thread),
    ]


def cover_advice(
    n: Mapping[str, int], cover: Flat, spine_nm: int, each_nm: int, thickness_nm: int
) -> list[Advice]:
    """Warnings about a one-piece cover; a signature is ``each_nm`` thick at the spine."""
    found: list[Advice] = []
    if n["square"] <= 0:
        found.append(
            Advice(
                say(
                    "The cover is {cover} high and the leaf {leaf}: it does not stand past the "
                    "leaf. Make the square at least {mend} for a cover of {high}."
                ),
                {
                    "cover": cover.height_nm,
                    "leaf": n["leaf_height"],
                    "mend": 3 * MM,
                    "high": n["leaf_height"] + 6 * MM,
                },
                "square",
                grave=True,
            )
        )
    wanted = max(spine_nm, n["signatures"] * n["row_pitch"])
    wanted = -(-wanted // (MM // 2)) * (MM // 2)
    if n["spine"] and n["spine"] < spine_nm:
        found.append(
            Advice(
                say(
                    "The spine is {spine}; block and cover are {block} thick there: the journal "
                    "will not close. Give the spine {mend}, or 0 to have it worked out."
                ),
                {"spine": n["spine"], "block": spine_nm, "mend": wanted},
                "spine",
                grave=True,
            )
        )
    rows = n["signatures"] * n["row_pitch"]
    if n["spine"] and n["spine"] < rows:
        found.append(
            Advice(
                say(
                    "The spine is {spine} and the rows of holes want {rows}: they would lie in "
                    "back and front. Give the spine {mend}, or bring the rows closer."
                ),
                {"spine": n["spine"], "rows": rows, "mend": wanted},
                "spine",
                grave=True,
            )
        )
    if n["flap"] and n["flap"] <= thickness_nm:
        found.append(
            Advice(
                say(
                    "A flap of {flap} does not reach past a journal {thick} thick. "
                    "Give it {mend} or more."
                ),
                {"flap": n["flap"], "thick": thickness_nm, "mend": thickness_nm + 25 * MM},
                "flap",
                grave=True,
            )
        )
    elif n["flap"] and n["flap"] < thickness_nm + 20 * MM:
        found.append(
            Advice(
                say(
                    "Of a flap of {flap} a journal {thick} thick leaves hardly anything to hold. "
                    "Give it {mend} or more."
                ),
                {"flap": n["flap"], "thick": thickness_nm, "mend": thickness_nm + 25 * MM},
                "flap",
            )
        )
    if n["signatures"] > 1 and n["row_pitch"] < each_nm:
        found.append(
            Advice(
                say(
                    "Rows {pitch} apart crowd signatures that are {each} thick at the spine. Leave "
                    "{mend} between rows, or 0 to have it worked out."
                ),
                {
                    "pitch": n["row_pitch"],
                    "each": each_nm,
                    "mend": max(-(-each_nm // MM) * MM, 2 * HOLE_NM),
                },
                "row_pitch",
            )
        )
    far = max(2 * each_nm, each_nm + 2 * MM, LOOSE_NM)
    gapes = cover.panels[1].width_nm - spine_nm
    typed = n["spine"] > rows
    if n["signatures"] > 1 and n["row_pitch"] <= far and gapes > GAPING_NM:
        found.append(
            Advice(
                say("A spine of {spine} gapes on a block and cover of {block}.")
                + " "
                + (
                    say("Give it {mend}, or 0 to have it worked out.")
                    if typed
                    else say("The rows make it so wide: put more folios into fewer signatures.")
                ),
                {"spine": cover.panels[1].width_nm, "block": spine_nm}
                | ({"mend": wanted} if typed else {}),
                "spine" if typed else "signatures",
            )
        )
    if n["signatures"] > 1 and n["row_pitch"] > far:
        found.append(
            Advice(
                say(
                    "Rows {pitch} apart lie far from one another for signatures {each} thick: the "
                    "spine, {spine}, is much wider than the block and gapes. Leave {mend} between "
                    "rows, or 0 to have it worked out."
                ),
                {
                    "pitch": n["row_pitch"],
                    "each": each_nm,
                    "spine": cover.panels[1].width_nm,
                    "mend": max(-(-each_nm // MM) * MM, 3 * MM),
                },
                "row_pitch",
            )
        )
    panel = n["leaf_width"] + n["foreedge_square"]
    if n["flap"] > panel:
        found.append(
            Advice(
                say(
                    "A flap of {flap} is wider than the front, {panel}, and runs over the spine. "
                    "Give it {mend} or less."
                ),
                {"flap": n["flap"], "panel": panel, "mend": panel * 2 // 3 // MM * MM},
                "flap",
            )
        )
    return found


def hole_advice(n: Mapping[str, int], folio: Flat) -> list[Advice]:
    found: list[Advice] = []
    first, last = n["end_distance"], folio.height_nm - n["end_distance"]
    if first < EDGE_NM:
        found.append(
            Advice(
                say(
                    "The outer stations lie {first} from head and tail; the paper tears closer "
                    "than {edge}. Move them in to {edge} or more."
                ),
                {"first": first, "edge": EDGE_NM},
                "end_distance",
                grave=True,
            )
        )
    if last <= first or (last - first) < (n["stations"] - 1) * EDGE_NM:
        found.append(
            Advice(
                say(
                    "{stations} apart is too close for the stations on a leaf {leaf} high. "
                    "Bring the outer ones nearer the ends, or punch fewer."
                ),
                {
                    "stations": max(last - first, 0) // (n["stations"] - 1),
                    "leaf": n["leaf_height"],
                },
                "end_distance",
                grave=True,
            )
        )
    if n["leaf_height"] >= FIVE_STATIONS_NM and n["stations"] == 3:
        found.append(
            Advice(
                say(
                    "Three stations hold a leaf {leaf} high loosely: from {from_height} on manuals "
                    "punch five."
                ),
                {"leaf": n["leaf_height"], "from_height": FIVE_STATIONS_NM},
                "stations",
            )
        )
    if n["signatures"] > 1 and n["row_pitch"] <= HOLE_NM:
        found.append(
            Advice(
                say(
                    "Rows {pitch} apart run into one another: an awl's hole is {hole} across. "
                    "Leave {mend} between rows."
                ),
                {"pitch": n["row_pitch"], "hole": HOLE_NM, "mend": 3 * MM},
                "row_pitch",
                grave=True,
            )
        )
    return found


def fold_advice(n: Mapping[str, int], gathering: Gathering) -> list[Advice]:
    """Warnings about folds too thick to fold well, creep, and stations that miss a folio."""
    found: list[Advice] = []
    thickest = max(range(len(gathering.signatures)), key=gathering.fold_nm)
    fold = gathering.fold_nm(thickest)
    folios = len(gathering.signatures[thickest])
    several = n["signatures"] > 1 or "row_pitch" in n
    if fold > FOLDABLE_NM and folios > 1:
        found.append(_thick_fold(gathering, thickest, several=several))
    if gathering.creep_nm > CREEP_NM:
        whose = (
            say("The innermost folio creeps {creep} past the outermost.")
            if gathering.plain
            else say("Inside a signature folios creep up to {creep} past the width of the leaf.")
        )
        mend = say("Trim the fore edge as the steps say, or put fewer folios in a signature.")
        found.append(Advice(f"{whose} {mend}", {"creep": gathering.creep_nm}, "folios"))
    for kind in gathering.kinds[1:]:
        found += _reach_advice(kind, gathering)
    return found


def _thick_fold(gathering: Gathering, row: int, *, several: bool) -> Advice:
    """A fold of one signature that is too thick, and how few folios to put into it."""
    folios, fold = len(gathering.signatures[row]), gathering.fold_nm(row)
    if gathering.plain:
        caliper = gathering.kinds[0].paper.caliper_nm
        found = say(
            "{folios} folios of {caliper} paper make a fold {fold} thick, which gapes and punches "
            "badly.",
            folios=folios, **later("caliper", "fold"),
        )  # fmt: skip
        fewer = max(FOLDABLE_NM // caliper, 1)
        mend = (
            say_many(
                fewer,
                "Take {n} folio to a signature and more signatures.",
                "Take {n} folios to a signature and more signatures.",
            )
            if several
            else say_many(
                fewer,
                "Take {n} folio to a signature, or thinner paper.",
                "Take {n} folios to a signature, or thinner paper.",
            )
        )
        return Advice(f"{found} {mend}", {"caliper": caliper, "fold": fold}, "folios")
    if len(gathering.signatures) == 1:
        found = say(
            "The {folios} folios make a fold {fold} thick, which gapes and punches badly.",
            folios=folios, **later("fold"),
        )  # fmt: skip
    else:
        found = say(
            "The {folios} folios of signature {number} make a fold {fold} thick, which gapes and "
            "punches badly.",
            folios=folios, number=row + 1, **later("fold"),
        )  # fmt: skip
    mend = (
        say("Take fewer, up to {most} in all and more signatures.")
        if several
        else say("Take fewer, up to {most} in all, or thinner paper.")
    )
    return Advice(f"{found} {mend}", {"fold": fold, "most": FOLDABLE_NM}, "folios")


def _reach_advice(kind: FolioKind, gathering: Gathering) -> list[Advice]:
    """Whether thread holds a lower folio: two stations at least, none too near its ends."""
    paper, field = in_braces(kind.paper.name), key_of(kind.number, "height")
    head, tail = kind.head_nm, kind.head_nm + kind.height_nm
    held = [y for y in gathering.at if kind.holds(y)]
    lengths = {"high": kind.height_nm, "mend": _reaching_all(kind, gathering)}
    places = {"paper": paper, **later("high", "mend")}
    if len(held) < LEAST_HELD:
        text = (
            say(
                "Through the folio of {paper}, {high} high, only one station goes: it is not held. "
                "Make it {mend} high to reach them all, or tip it in.",
                **places,
            )
            if held
            else say(
                "Through the folio of {paper}, {high} high, no station goes: it is not held. Make "
                "it {mend} high to reach them all, or tip it in.",
                **places,
            )
        )
        return [Advice(text, lengths, field, grave=True)]
    found: list[Advice] = []
    missed = len(gathering.at) - len(held)
    if missed:
        text = say_many(
            missed,
            "{n} of {stations} stations misses the folio of {paper}, {high} high: {held} hold it. "
            "Make it {mend} high to reach them all.",
            "{n} of {stations} stations miss the folio of {paper}, {high} high: {held} hold it. "
            "Make it {mend} high to reach them all.",
            stations=len(gathering.at), held=len(held), **places,
        )  # fmt: skip
        found.append(Advice(text, lengths, field))
    # Just outside it as well the awl would tear its end.
    near = [
        gap
        for y in gathering.at
        for gap in (min(abs(y - head), abs(tail - y)),)
        if gap < (EDGE_NM if kind.holds(y) else HOLE_NM)
    ]
    if near and kind.height_nm < gathering.leaf_height_nm:
        found.append(
            Advice(
                say(
                    "A station lies {near} from the end of the folio of {paper}; the paper tears "
                    "closer than {edge}. Make it {mend} high, or low enough for the station to "
                    "miss it.",
                    paper=paper,
                    **later("near", "edge", "mend"),
                ),
                {"near": min(near), "edge": EDGE_NM, "mend": lengths["mend"]},
                field,
            )
        )
    return found


def _reaching_all(kind: FolioKind, gathering: Gathering) -> int:
    """How high a lower folio must be, where it sits, for every station to go through it safely."""
    first, last = gathering.at[0], gathering.at[-1]
    below = gathering.leaf_height_nm - kind.height_nm
    if below and kind.head_nm == 0:
        high = last
    elif below and kind.head_nm == below:
        high = gathering.leaf_height_nm - first
    else:
        # In the middle it reaches as far to both sides as the station further out wants.
        middle = gathering.leaf_height_nm
        high = max(middle - 2 * first, 2 * last - middle) + EDGE_NM
    return min(high + EDGE_NM, gathering.leaf_height_nm)


def length_advice(thread: tuple[ThreadPath, ...]) -> list[Advice]:
    found: list[Advice] = []
    longest = max((path.length_nm for path in thread), default=0)
    if longest > WORKABLE_THREAD_NM:
        found.append(
            Advice(
                say(
                    "One length of thread is {thread} long; more than {most} tangles and frays. "
                    "Shorten the tails, or join a second length on the way."
                ),
                {"thread": longest, "most": WORKABLE_THREAD_NM},
                "tails",
            )
        )
    return found
