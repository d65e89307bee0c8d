"""Every warning exactly at its bound, where it is silent, and a nanometre past it, with its mend.

Then what is first offered of each structure, between which bounds, and the minutes of the work. All
of them are measures of the trade, *common practice, no source*, where no other is named.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from app.core.length import INCH, MM
from app.core.structures import all_operations, structure, structures
from app.core.structures.base import Build, Dimension, PaperFacts
from tests.core.by_hand import nm

NM = 1
Bounds = tuple[int, int, int]
Choice = tuple[str, str]
Case = tuple[str, dict[str, str], dict[str, Any], dict[str, Any], str, str]
FIRST = {"leaves": "0.1", "cover": "0.3", "boards": "2", "covering": "0.1", "card": "0.3",
         "envelope": "0.1", "endpapers": "0.1", "spine_piece": "0.3", "lining": "0.1",
         "strip": "0.2", "backing": "0.5", "top": "0.2"}  # fmt: skip
"""Thickness of the papers in millimetres, where a case names no other."""


def build(key: str, papers: dict[str, str], dims: dict[str, Any]) -> Build:
    """Lengths written as words are millimetres; whole numbers are counts or nanometres."""
    made = structure(key)
    kinds = {d.key: d.kind for d in made.dimensions}
    given = {
        k: nm(v) if kinds[k] == "length" and isinstance(v, str) else v for k, v in dims.items()
    }
    facts = {k: PaperFacts(k, nm(v), Fraction(100)) for k, v in (FIRST | papers).items()}
    return made.build(made.checked(made.defaults() | given), facts)


def exactly(length: int) -> str:
    return f"{(Decimal(length) / MM).normalize():f} mm"


def said(made: Build) -> dict[str, tuple[str | None, bool]]:
    return {a.say(exactly): (a.field, a.grave) for a in made.advice}


def words_of(made: Build) -> str:
    return " ".join(said(made))


HALF = {"row_pitch": "2.4", "signatures": 3, "folios": 6}
PAIR = {"signatures": 2}
GRAVE: list[Case] = [
    # A square of nothing does not stand past the leaf; a nanometre does.
    ("wrap_cover", {}, {"square": NM}, {"square": 0}, "square",
     "The cover is 160 mm high and the leaf 160 mm: it does not stand past the leaf. Make the "
     "square at least 3 mm for a cover of 166 mm."),
    ("pamphlet", {}, {"square": 0}, {"square": -NM}, "square",
     "The cover is 159.999998 mm high and the leaf 160 mm: the leaves stand out of it. Make the "
     "square zero for a cover of 160 mm that is trimmed with the leaves, or more."),
    # 72 leaves × 0.1 = 7.2 and 0.4 of cover: 7.6, to the half 8.
    ("wrap_cover", {"cover": "0.4"}, {**HALF, "folios": 12, "spine": "7.6"},
     {**HALF, "folios": 12, "spine": "7.599999"}, "spine",
     "The spine is 7.599999 mm; block and cover are 7.6 mm thick there: the journal will not "
     "close. Give the spine 8 mm, or 0 to have it worked out."),
    ("long_stitch", {"cover": "0.4"}, {**HALF, "folios": 12, "spine": "7.6"},
     {**HALF, "folios": 12, "spine": "7.599999"}, "spine",
     "The spine is 7.599999 mm; block and cover are 7.6 mm thick there: the journal will not "
     "close. Give the spine 8 mm, or 0 to have it worked out."),
    # Three rows 3.1 apart want 9.3; a block of 2.4 is no hindrance.
    ("wrap_cover", {}, {"row_pitch": "3.1", "spine": "9.3"},
     {"row_pitch": "3.1", "spine": "9.299999"}, "spine",
     "The spine is 9.299999 mm and the rows of holes want 9.3 mm: they would lie in back and front. "
     "Give the spine 9.5 mm, or bring the rows closer."),
    ("wrap_cover", {}, {"flap": 0, "wraps": 0}, {"flap": 0, "wraps": 1}, "flap",
     "There is no flap to loop the cord through: its hole would lie in the back. Give the flap "
     "50 mm, or wrap no cord."),
    # 24 leaves × 0.1 and three layers of cover: 3.3; 25 more are to be held.
    ("wrap_cover", {}, {"flap": "23.3"}, {"flap": "3.3"}, "flap",
     "A flap of 3.3 mm does not reach past a journal 3.3 mm thick. Give it 28.3 mm or more."),
    ("wrap_cover", {}, {"row_pitch": "1.500001"} | PAIR, {"row_pitch": "1.5"} | PAIR, "row_pitch",
     "Rows 1.5 mm apart run into one another: an awl's hole is 1.5 mm across. Leave 3 mm between "
     "rows."),
    ("pamphlet", {}, {"end_distance": "6"}, {"end_distance": "5.999999"}, "end_distance",
     "The outer stations lie 5.999999 mm from head and tail; the paper tears closer than 6 mm. "
     "Move them in to 6 mm or more."),
    # Five stations want four stretches of 6: 100 − 2 × 38.
    ("wrap_cover", {}, {"leaf_height": "100", "stations": "5", "end_distance": "38"},
     {"leaf_height": "100", "stations": "5", "end_distance": "38.000001"}, "end_distance",
     "5.999999 mm apart is too close for the stations on a leaf 100 mm high. Bring the outer ones "
     "nearer the ends, or punch fewer."),
    ("pamphlet", {}, {"leaf_height": "100"}, {"leaf_height": "100", "end_distance": "51"},
     "end_distance",
     "0 mm apart is too close for the stations on a leaf 100 mm high. Bring the outer ones "
     "nearer the ends, or punch fewer."),
    ("chain_stitch", {}, {"board_margin": "6"}, {"board_margin": "5.999999"}, "board_margin",
     "The holes of the boards lie 5.999999 mm from the spine; closer than 6 mm they break out. Move "
     "them in to 8 mm."),
    ("chain_stitch", {}, {"square": NM}, {"square": -NM}, "square",
     "The board is 159.999998 mm high and the leaf 160 mm: it does not stand past the leaf. Make "
     "the square at least 3 mm."),
    ("chain_stitch", {}, {"foreedge_square": 0}, {"foreedge_square": -NM}, "foreedge_square",
     "The board is 119.999999 mm wide and does not reach the leaf's fore edge, 120 mm. Make the "
     "fore-edge square zero or more, 3 mm as a rule."),
    # Cut off at 45° a turn-in of t reaches t/√8 past the corner, and 1.5 × 2 mm are wanted: √72 mm
    # are 8.485 281 4. The mend, 4 1/4 boards, is 8.5 and made 9.
    ("chain_stitch", {}, {"turn_in": "8.485282"}, {"turn_in": "8.485281"}, "turn_in",
     "8.485281 mm turned in leaves the corners of a board 2 mm thick bare: cut off, the paper does "
     "not reach round them. Turn in 9 mm or more."),
    ("side_sewn", {}, {"margin": "6"}, {"margin": "5.999999"}, "margin",
     "The holes lie 5.999999 mm from the spine; the paper tears closer than 6 mm. Move them in to "
     "6 mm or more."),
    ("side_sewn", {}, {"end_distance": "6"}, {"end_distance": "5.999999"}, "end_distance",
     "The holes lie 5.999999 mm from head and tail; the paper tears closer than 6 mm. Move them in "
     "to 6 mm or more."),
    # Four holes want three stretches of 6: 48 − 2 × 15.
    ("side_sewn", {}, {"leaf_height": "48"}, {"leaf_height": "48", "end_distance": "15.000001"},
     "end_distance",
     "Outer holes 15.000001 mm from both ends leave the 4 too close together, or let them pass "
     "each other, on a leaf 48 mm high. Bring them nearer the ends, or pierce fewer."),
    ("concertina", {}, {"tab": "6"}, {"tab": "5.999999"}, "tab",
     "A tab of 5.999999 mm comes loose: give it 10 mm or more."),
    ("folded_card", {}, {"clearance": "1"}, {"clearance": "0.999999"}, "clearance",
     "With 0.999999 mm of room the card will not go into its envelope. Leave 3 mm on each side."),
    ("folded_card", {}, {"overlap": "5"}, {"overlap": 0}, "overlap",
     "Flap and back overlap by 0 mm: it will not stay shut. Let them overlap 12 mm or more."),
    ("folded_card", {}, {"flap": "15.000001"}, {"flap": "15"}, "overlap",
     "The back stands past the opening: the flap is 15 mm and laps over it by 15 mm. Let it lap over "
     "7.5 mm or less."),
    # A front of 60 + 2 × 3: a side as wide lies on it, a wider one stands out; a quarter is 16.5.
    ("folded_card", {}, {"leaf_width": "60", "side": "66"},
     {"leaf_width": "60", "side": "66.000001"}, "side",
     "Sides of 66.000001 mm stand out past the front, 66 mm wide. Make them 16 mm or less."),
    # 150 + 2 × 3 − 121 + 15 = 50, a third of 150.
    ("folded_card", {}, {"leaf_height": "150", "flap": "121"},
     {"leaf_height": "150", "flap": "121.000001"}, "flap",
     "A back of 49.999999 mm hardly holds the sides of a card 150 mm high. Make the flap 75 mm or "
     "less."),
]  # fmt: skip
UNWISE: list[Case] = [
    ("wrap_cover", {}, {"flap": "23.3"}, {"flap": "23.299999"}, "flap",
     "Of a flap of 23.299999 mm a journal 3.3 mm thick leaves hardly anything to hold. Give it "
     "28.3 mm or more."),
    ("wrap_cover", {}, {"flap": "23.3"}, {"flap": "3.300001"}, "flap",
     "Of a flap of 3.300001 mm a journal 3.3 mm thick leaves hardly anything to hold. Give it "
     "28.3 mm or more."),
    # 32 leaves × 0.1 and three layers of cover: 3.2 + 0.9.
    ("long_stitch", {}, {"flap": "24.1"}, {"flap": "24.099999"}, "flap",
     "Of a flap of 24.099999 mm a journal 4.1 mm thick leaves hardly anything to hold. Give it "
     "29.1 mm or more."),
    # A front of 121 + 6; two thirds of it are 84.67, and whole millimetres 84.
    ("wrap_cover", {}, {"leaf_width": "121", "flap": "127"},
     {"leaf_width": "121", "flap": "127.000001"}, "flap",
     "A flap of 127.000001 mm is wider than the front, 127 mm, and runs over the spine. Give it "
     "84 mm or less."),
    # 18 folios of 0.1 are 3.6 thick, so rows want 4 whole millimetres.
    ("wrap_cover", {}, PAIR | {"folios": 18, "row_pitch": "3.6"},
     PAIR | {"folios": 18, "row_pitch": "3.599999"}, "row_pitch",
     "Rows 3.599999 mm apart crowd signatures that are 3.6 mm thick at the spine. Leave 4 mm between "
     "rows, or 0 to have it worked out."),
    ("wrap_cover", {}, PAIR | {"row_pitch": "0.8"}, PAIR | {"row_pitch": "0.799999"}, "row_pitch",
     "Rows 0.799999 mm apart crowd signatures that are 0.8 mm thick at the spine. Leave 3 mm between "
     "rows, or 0 to have it worked out."),
    # Too far is over twice 3.6; over 1.6 and 2; over 3.25 for 0.8, an eighth of an inch and a bit.
    ("wrap_cover", {}, PAIR | {"folios": 18, "row_pitch": "7.2"},
     PAIR | {"folios": 18, "row_pitch": "7.200001"}, "row_pitch",
     "Rows 7.200001 mm apart lie far from one another for signatures 3.6 mm thick: the spine, "
     "14.5 mm, is much wider than the block and gapes. Leave 4 mm between rows, or 0 to have it "
     "worked out."),
    ("long_stitch", {}, PAIR | {"folios": 8, "row_pitch": "3.6"},
     PAIR | {"folios": 8, "row_pitch": "3.600001"}, "row_pitch",
     "Rows 3.600001 mm apart lie far from one another for signatures 1.6 mm thick: the spine, "
     "7.5 mm, is much wider than the block and gapes. Leave 3 mm between rows, or 0 to have it "
     "worked out."),
    ("wrap_cover", {}, PAIR | {"row_pitch": "3.25"}, PAIR | {"row_pitch": "3.250001"}, "row_pitch",
     "Rows 3.250001 mm apart lie far from one another for signatures 0.8 mm thick: the spine, 7 mm, "
     "is much wider than the block and gapes. Leave 3 mm between rows, or 0 to have it worked out."),
    # 220 mm along, four passes of 0.7, and two tails of 638.6 are one metre and a half.
    ("wrap_cover", {}, {"signatures": 1, "tails": "638.6"},
     {"signatures": 1, "tails": "638.600001"}, "tails",
     "One length of thread is 1500.000002 mm long; more than 1500 mm tangles and frays. Shorten the "
     "tails, or join a second length on the way."),
    # Three rows make a spine of 9, so the girth is 2 × (126 + 9) = 270; twice seven times that, two
    # tails of 90, 40 of hitch.
    ("wrap_cover", {}, {"wraps": 7, "cord_tail": "90"},
     {"wraps": 7, "cord_tail": "90.000001"}, "wraps",
     "The closing wants 4000.000002 mm of cord; more than 4000 mm is unhandy and a snare for small "
     "children. Wrap it fewer times."),
    # A square of nothing is not grave for boards.
    ("chain_stitch", {}, {"square": NM}, {"square": 0}, "square",
     "The board is 160 mm high and the leaf 160 mm: it does not stand past the leaf. Make the "
     "square at least 3 mm."),
    ("concertina", {"boards": "1"}, {"turn_in": "8"}, {"turn_in": "7.999999"}, "turn_in",
     "7.999999 mm turned in does not hold at the corners: turn in 12 mm or more."),
    # Of a board whose thickness nobody knows only this is certain.
    ("concertina", {"boards": "0"}, {"turn_in": 0}, {"turn_in": NM}, "turn_in",
     "0.000001 mm turned in does not hold at the corners: turn in 12 mm or more."),
    # Half of a leaf of 110: 51 and 4.
    ("side_sewn", {}, {"leaf_width": "110", "margin": "51"},
     {"leaf_width": "110", "margin": "51.000001"}, "margin",
     "The sewn margin takes 55.000001 mm of a leaf 110 mm wide: hardly half of it opens. Sew nearer "
     "the spine, or take a wider leaf."),
    # 114 leaves × 0.1 and two covers of 0.3 are 12.
    ("side_sewn", {}, {"leaves": 114}, {"leaves": 115}, "leaves",
     "The block is 12.1 mm thick; past 12 mm it is hard to pierce straight. Take fewer leaves, or "
     "drill it clamped between boards."),
    ("concertina", {}, {"panels": 10, "panels_each": 10, "leaf_width": "150"},
     {"panels": 10, "panels_each": 10, "leaf_width": "150.000001"}, "panels_each",
     "One length is 1500.00001 mm long, longer than most sheets. Put fewer panels into each."),
    ("concertina", {}, {"panels": 8}, {"panels": 9}, "panels",
     "With 9 panels the two boards are glued to opposite faces of the strip, so it has no one side "
     "to look at. Take an even number."),
    # Half of a front of 111 is 55.5; a quarter is 27.75.
    ("folded_card", {}, {"side": "55.5"}, {"side": "55.500001"}, "side",
     "Sides of 55.500001 mm lie over one another on a front 111 mm wide, and the card rubs on the "
     "step. Make them 27 mm or less."),
    ("folded_card", {}, {"side": "55.5"}, {"leaf_width": "60", "side": "66"}, "side",
     "Sides of 66 mm lie over one another on a front 66 mm wide, and the card rubs on the step. "
     "Make them 16 mm or less."),
    ("folded_card", {}, {"overlap": "5"}, {"overlap": "4.999999"}, "overlap",
     "Flap and back overlap by 4.999999 mm: it will not stay shut. Let them overlap 12 mm or more."),
    ("folded_card", {}, {"overlap": "5"}, {"overlap": NM}, "overlap",
     "Flap and back overlap by 0.000001 mm: it will not stay shut. Let them overlap 12 mm or more."),
]  # fmt: skip
CASES = [(*case, True) for case in GRAVE] + [(*case, False) for case in UNWISE]


@pytest.mark.parametrize(
    ("key", "papers", "silent", "warned", "field", "text", "grave"),
    CASES, ids=[f"{key}-{text[:30]}" for key, _, _, _, _, text, _ in CASES],
)  # fmt: skip
def test_a_warning_is_silent_at_its_bound_and_said_past_it(
    key: str, papers: dict[str, str], silent: dict[str, Any], warned: dict[str, Any], field: str,
    text: str, grave: bool,
) -> None:  # fmt: skip
    found = next(a for a in build(key, papers, warned).advice if a.say(exactly) == text)
    assert (found.field, found.grave) == (field, grave)
    assert found.text not in [a.text for a in build(key, papers, silent).advice]


@pytest.mark.parametrize(
    ("key", "more"), [("wrap_cover", " and more signatures"), ("pamphlet", ", or thinner paper")]
)
def test_a_fold_over_two_and_a_half_millimetres_gapes(key: str, more: str) -> None:
    # Ten folios of 0.25 are at the bound; of nine the fold is thin enough again.
    ten: dict[str, Any] = {"folios": 10}
    assert "gapes" not in words_of(build(key, {"leaves": "0.25"}, ten))
    over = said(build(key, {"leaves": "0.250001"}, ten))
    assert over[
        "10 folios of 0.250001 mm paper make a fold 2.50001 mm thick, which gapes and punches "
        f"badly. Take 9 folios to a signature{more}."
    ] == ("folios", False)
    # Board of 3 mm is thicker than that by itself.
    assert "Take 1 folio" in words_of(build(key, {"leaves": "3"}, {"folios": 2}))


@pytest.mark.parametrize("key", ["pamphlet", "wrap_cover", "long_stitch", "chain_stitch"])
def test_creep_past_a_millimetre_is_said_and_a_millimetre_is_not(key: str) -> None:
    # Six folios: the innermost lies five sheets of 0.2 off.
    six: dict[str, Any] = {"folios": 6}
    assert "creeps" not in words_of(build(key, {"leaves": "0.2"}, six))
    over = said(build(key, {"leaves": "0.200001"}, six))
    assert over[
        "The innermost folio creeps 1.000005 mm past the outermost. Trim the fore edge as the "
        "steps say, or put fewer folios in a signature."
    ] == ("folios", False)


@pytest.mark.parametrize(
    ("height", "stations", "warns"),
    [(7 * INCH, "3", True), (7 * INCH - 1, "3", False), (7 * INCH, "5", False)],
)
def test_manuals_punch_five_holes_from_seven_inches_on(
    height: int, stations: str, warns: bool
) -> None:
    # Book-repair manuals: three holes under 7 in, else five.
    made = build("pamphlet", {}, {"leaf_height": height, "stations": stations})
    text = "Three stations hold a leaf 177.8 mm high loosely: from 177.8 mm on manuals punch five."
    assert said(made) == ({text: ("stations", False)} if warns else {})


@pytest.mark.parametrize(
    ("key", "dims"),
    [
        # One signature has one row, however close it is said to lie, or far.
        ("wrap_cover", {"signatures": 1, "row_pitch": "0.5"}),
        ("wrap_cover", {"signatures": 1, "row_pitch": "20"}),
        # Bare boards turn nothing in; one length needs no tab; a flap may be left away.
        ("chain_stitch", {"turn_in": 0}), ("concertina", {"turn_in": 0}),
        ("concertina", {"panels": 4, "tab": 0}), ("wrap_cover", {"flap": 0, "wraps": 0}),
        ("long_stitch", {"flap": 0, "signatures": 3}),
        # At the bound of spine and rows at once: 3 rows of 3 mm, two of 3.25.
        ("wrap_cover", {"spine": "9"}), ("wrap_cover", {"row_pitch": "3.25"} | PAIR),
    ],
)  # fmt: skip
def test_what_does_not_apply_is_not_warned_of(key: str, dims: dict[str, Any]) -> None:
    assert said(build(key, {}, dims)) == {}


def gapes(cover: str, dims: dict[str, Any]) -> bool:
    made = build("wrap_cover", {"cover": cover}, dims)
    found = [
        a for a in made.advice if a.say(exactly).endswith("more folios into fewer signatures.")
    ]
    assert [(a.field, a.grave) for a in found] == [("signatures", False)] * len(found)
    return bool(found)


def test_a_spine_more_than_ten_mm_wider_than_its_block_gapes() -> None:
    # Five rows 3 apart are 15; five signatures of 0.8 and a cover of 1 are 5.
    five: dict[str, Any] = {"signatures": 5}
    assert not gapes("1", five)
    assert gapes("0.999999", five)
    # 3.25 apart is not far yet, and five are 16.25; past it the rows are warned of instead.
    assert gapes("1", five | {"row_pitch": "3.25"})
    assert not gapes("1", five | {"row_pitch": "3.250001"})
    # A spine that was typed wider than the rows want is to blame itself.
    made = build("wrap_cover", {"cover": "0.3"}, {"signatures": 2, "spine": "20"})
    [found] = [a for a in made.advice if "gapes on a block" in a.text]
    assert found.field == "spine"
    assert "Give it 6 mm, or 0 to have it worked out." in found.say(exactly)
    assert not gapes("0.3", {"signatures": 1, "spine": "20"})


@pytest.mark.parametrize(
    ("key", "what"),
    [("pamphlet", ["leaves", "cover"]), ("wrap_cover", ["leaves", "cover"]),
     ("long_stitch", ["leaves", "cover"]), ("chain_stitch", ["leaves"]), ("concertina", ["strip"]), ("folded_card", ["card"])],
)  # fmt: skip
def test_each_part_folded_either_way_of_its_grain_is_named(key: str, what: list[str]) -> None:
    grains = [d.key for d in structure(key).dimensions if d.key.endswith("_grain")]
    texts = said(build(key, {}, dict.fromkeys(grains, "free")))
    assert texts == {
        f"The grain of the {part} may run either way: a fold across the grain cracks and will not "
        "lie flat. Choose “along the fold” where the paper has a grain.": (grain, False)
        for part, grain in zip(what, grains, strict=True)
    }


@pytest.mark.parametrize(
    ("grain", "words"), [("leaf_grain", "stiff to turn"), ("cover_grain", "the score cracks")]
)
def test_single_leaves_are_stiff_across_the_grain_and_a_score_cracks(
    grain: str, words: str
) -> None:
    [[text, about]] = said(build("side_sewn", {}, {grain: "free"})).items()
    assert words in text
    assert about == (grain, False)


def test_a_board_of_one_and_a_half_mm_wants_seven_turned_in() -> None:
    # 4 1/4 × 1.5 = 6.375; of whole millimetres 7.
    text = words_of(build("concertina", {"boards": "1.5"}, {"turn_in": "6"}))
    assert "6 mm turned in leaves the corners of a board 1.5 mm thick bare" in text
    assert "Turn in 7 mm or more." in text


# --- what is first offered, and its bounds

LEAF: dict[str, Bounds | Choice] = {
    "leaf_height": (160, 20, 1000), "leaf_width": (120, 20, 1000), "leaf_grain": ("fold", "fold free"),
}  # fmt: skip
COVER: dict[str, Bounds | Choice] = {
    "square": (5, -100, 100),
    "foreedge_square": (6, 0, 100),
    "cover_grain": ("fold", "fold free"),
}
SPINE: dict[str, Bounds | Choice] = {
    "swell": (0, 0, 60), "row_pitch": (0, 0, 50), "spine": (0, 0, 300),
    "spine_step": ("half", "half sixteenth"), "folios": (4, 1, 40),
}  # fmt: skip
BOARDS: dict[str, Bounds | Choice] = {
    "square": (3, -50, 50),
    "foreedge_square": (3, -50, 50),
    "turn_in": (15, 0, 60),
}
KNOT: dict[str, Bounds | Choice] = {"knot": ("inside", "inside outside")}
FINISH: dict[str, Bounds | Choice] = {
    "corners": ("square", "square clipped rounded"), "corner_size": (6, 1, 60),
    "edges": ("plain", "plain one all"), "stamped": (0, 0, 20), "embossed": (0, 0, 20),
}  # fmt: skip
WHOLE = FINISH | {"corners_of": ("both", "both leaves cover")}
ANY = "none elastic strap ties"
CLOSED: dict[str, Bounds | Choice] = {"closing": ("none", ANY)}
WITH_FLAP = "none button cord elastic magnet strap ties toggle"
OFFERED: dict[str, dict[str, Bounds | Choice]] = {
    "pamphlet": LEAF | COVER | KNOT | WHOLE | CLOSED | {
        "folios": (6, 1, 40), "stations": ("3", "3 5 7"), "end_distance": (25, 0, 400),
        "tails": (60, 0, 1000), "square": (0, -100, 100), "foreedge_square": (2, 0, 100),
    },
    "wrap_cover": LEAF | COVER | KNOT | SPINE | WHOLE | {
        "closing": ("cord", WITH_FLAP),
        "signatures": (3, 1, 24), "stations": ("3", "3 5 7"), "end_distance": (25, 0, 400),
        "tails": (60, 0, 1000), "flap": (50, 0, 500), "wraps": (2, 0, 12),
        "cord_tail": (0, 0, 1000), "hitch": (40, 0, 500), "beads_each_end": (3, 0, 40),
    },
    "long_stitch": LEAF | COVER | SPINE | WHOLE | {
        "closing": ("none", WITH_FLAP),
        "signatures": (4, 2, 24), "stations": ("4", "4 6 8"), "end_distance": (20, 0, 400),
        "tails": (100, 0, 1000), "flap": (0, 0, 500), "woven": (0, 0, 40),
    },
    "chain_stitch": LEAF | BOARDS | FINISH | CLOSED | {
        "signatures": (6, 2, 24), "folios": (4, 1, 40), "swell": (0, 0, 60),
        "stations": ("4", "3 4 5 6 7"), "end_distance": (20, 0, 400), "tails": (100, 0, 1000),
        "board_margin": (8, 1, 60),
    },
    "side_sewn": LEAF | CLOSED | {
        "leaves": (40, 2, 1000), "margin": (12, 0, 100), "end_distance": (15, 0, 400),
        "tails": (60, 0, 1000), "hinge": (4, 0, 50), "cover_grain": ("fold", "fold free"),
        "holes": (4, 2, 12), "pattern": ("line", "line noble tortoise hemp"),
    },
    "concertina": LEAF | BOARDS | CLOSED | {
        "panels": (12, 2, 200), "panels_each": (4, 1, 40), "tab": (12, 0, 60), "pocket": (0, 0, 500),
    },
    "pamphlet_rows": LEAF | COVER | KNOT | SPINE | WHOLE | CLOSED | {
        "signatures": (2, 2, 12), "rows": ("1", "1 2"), "stations": ("3", "3 5 7"),
        "end_distance": (25, 0, 400), "tails": (60, 0, 1000),
    },
    "case_bound": LEAF | FINISH | CLOSED | {
        "signatures": (8, 2, 24), "folios": (4, 1, 40), "swell": (10, 0, 60),
        "sewn": ("tapes", "tapes link_tapes link"), "tapes": (3, 1, 8), "tape_width": (12, 4, 60),
        "head_distance": (15, 0, 300), "tail_distance": (20, 0, 300), "kettle_gap": (6, 0, 100),
        "tails": (100, 0, 1000), "back": ("flat", "flat rounded"), "back_measured": (0, 0, 300),
        "spine_step": ("half", "half sixteenth"), "square": (3, -50, 50), "board_in": (3, -20, 60),
        "joint": (8, 1, 60), "turn_in": (15, 5, 60), "headbands": (2, 0, 2), "ribbons": (0, 0, 3),
    },
    "concertina_sewn": LEAF | BOARDS | FINISH | CLOSED | {
        "signatures": (6, 1, 40), "folios": (3, 1, 40), "stations": ("3", "3 5 7"),
        "end_distance": (25, 0, 400), "tails": (60, 0, 1000), "strip_past": (3, 0, 60),
        "on_each": (2, 1, 20), "tab": (12, 0, 60), "strip_grain": ("fold", "fold free"),
    },
    "one_sheet": LEAF | {"leaf_height": (105, 20, 1000), "leaf_width": (74, 20, 1000)},
    "glued_pad": LEAF | {
        "leaf_grain": ("edge", "edge free"), "leaves": (40, 2, 500), "glued": ("head", "head side"),
        "coats": (2, 1, 5), "top": ("none", "none cover"),
    },
    "wire_bound": LEAF | CLOSED | {
        "leaves": (60, 2, 1000), "margin": (0, 0, 60), "cover_grain": ("fold", "fold free"),
        "held": ("wire3", "wire3 wire2 rings2 rings3 file2 file4"),
    },
    "folded_card": LEAF | {
        "leaf_height": (148, 20, 1000), "leaf_width": (105, 20, 1000), "clearance": (3, 0, 30),
        "flap": (55, 5, 400), "overlap": (15, 0, 200), "side": (20, 5, 100),
    },
    "parts_list": {
        "height": (0, 0, 2000), "width": (0, 0, 2000), "thickness": (0, 0, 500), "steps": (1, 0, 200),
    },
}  # fmt: skip
"""First offered, least and most, lengths in millimetres."""


@pytest.mark.parametrize("key", sorted(OFFERED))
def test_what_a_structure_offers_first_lies_between_bounds_that_hold(key: str) -> None:
    made = structure(key)
    assert {d.key for d in made.dimensions} == set(OFFERED[key])
    first = made.defaults()
    for d in made.dimensions:
        offered = OFFERED[key][d.key]
        if d.kind == "choice":
            assert (d.default, " ".join(sorted_as(d, offered))) == offered
            assert (d.least, d.most) == (0, 0)
            continue
        unit = MM if d.kind == "length" else 1
        assert (d.default, d.least, d.most) == tuple(int(v) * unit for v in offered)
        assert first[d.key] == d.default
        for bound, past in ((d.least, -1), (d.most, 1)):
            assert d.key not in made.problems(first | {d.key: bound})
            refused = made.problems(first | {d.key: bound + past})[d.key]
            said = [f"{b // unit} mm" if unit == MM else f"{b}" for b in (d.least, d.most)]
            assert refused == f"{d.label} must lie between {said[0]} and {said[1]}."


def sorted_as(dimension: Dimension, offered: Bounds | Choice) -> list[str]:
    """The choices; closings, which stand by their names on the page, by their keys."""
    values = [value for value, _ in dimension.choices]
    return [values[0], *sorted(values[1:])] if dimension.key == "closing" else values


def test_a_shop_in_inches_is_offered_the_nearest_eighths() -> None:
    # 160 mm are 6.30 in, 120 are 4.72, 25 are 0.98, 60 are 2.36, 5 are 0.197, 6 are 0.236, 50 are
    # 1.97, 40 are 1.57; counts and per cent stay.
    first = structure("wrap_cover").defaults("in")
    eighths = {"leaf_height": 50, "leaf_width": 38, "end_distance": 8, "tails": 19, "square": 2,
               "foreedge_square": 2, "flap": 16, "hitch": 13, "row_pitch": 0, "spine": 0,
               "cord_tail": 0, "corner_size": 2}  # fmt: skip
    assert {k: first[k] for k in eighths} == {k: n * INCH // 8 for k, n in eighths.items()}
    others = {"signatures": 3, "folios": 4, "swell": 0, "wraps": 2, "beads_each_end": 3,
              "stations": "3", "knot": "inside", "spine_step": "sixteenth", "leaf_grain": "fold",
              "cover_grain": "fold", "corners": "square", "corners_of": "both", "edges": "plain",
              "stamped": 0, "embossed": 0, "closing": "cord"}  # fmt: skip
    assert first == {k: first[k] for k in eighths} | others


def test_the_minutes_of_each_operation_are_those_first_offered() -> None:
    # To set up and for each, in minutes, and hours of waiting.
    minutes = {
        "cut": "6 1/5 0", "fold": "0 2/5 0", "score": "3 3/5 0", "punch": "4 3/20 0",
        "sew": "2 6/5 0", "glue": "4 3 12", "finish": "2 4 12", "bead": "1 1/2 0", "tie": "1 3 0",
        "concertina_fold": "1 1/2 0", "card_fold": "1 1/3 0", "make_up": "2 2 0",
        "corner": "2 1/4 0", "edge": "8 3 0", "stamp": "12 2 0", "emboss": "15 2 0",
        "fit_tie": "1 3/2 0", "fit_elastic": "1 3 0", "fit_button": "1 2 0", "fit_toggle": "1 5 0",
        "fit_strap": "2 8 0", "fit_magnet": "2 2 12", "tip": "2 1 0", "mount": "3 2 0", "pocket": "3 4 0",
        "weave": "1 1 0", "back": "5 8 4", "round_back": "3 4 0", "case": "6 14 12",
        "case_in": "4 6 12", "sheet_fold": "1 1/3 0", "pad": "5 2 1", "punch_edge": "2 1/2 0",
        "close_wire": "1 2 0", "wrap_up": "2 3 0",
    }  # fmt: skip
    assert {
        op.key: f"{op.setup_minutes} {op.minutes_each} {op.waiting_hours}"
        for op in all_operations().values()
    } == minutes


def test_every_structure_is_among_these() -> None:
    assert set(OFFERED) == set(structures())
