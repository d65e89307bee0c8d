"""Pamphlets and one-piece covers worked out once by hand, to the last nanometre.

The arithmetic stands beside each figure and follows what a binder does, not how it is programmed:
what is cut, where holes and folds come to lie, how far the thread runs, what lies on what. Sizes of
leaves are A5 and A6 of ISO 216 where they are not round, grammage is as in ISO 536. Measures of
practice without a published source are marked *common practice, no source*.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from app.core.errors import DomainError
from app.core.length import MM, show_length
from app.core.structures.base import Build, PaperFacts, length_of
from app.core.structures.common import bare
from app.core.structures.folio_kinds import PLAIN
from app.core.structures.folio_steps import folio_steps
from app.core.structures.gathering import FolioKind, Gathering, gather
from app.core.structures.sewing import even_stations, pamphlet_path, row_offsets
from app.core.structures.thread import ThreadPath
from app.core.structures.wrap_cover import wrapped_cover
from tests.core.by_hand import PAPERS, build, flat, folds, holes, leaves, nm, panels, size, steps

# --- one signature


def a5_pamphlet(**dims: Any) -> Build:
    """A5 leaves, five stations from 20 mm on, a cover 2 and 3 mm larger."""
    first: dict[str, Any] = {"leaf_height": 210, "leaf_width": 148, "stations": "5",
                             "end_distance": 20, "square": 2, "foreedge_square": 3}  # fmt: skip
    return build("pamphlet", **(first | dims))


def test_a_pamphlet_of_six_folios_is_cut_folded_and_sewn_as_worked_by_hand() -> None:
    made = a5_pamphlet()
    # A folio is two leaves wide, the cover two leaves and two fore-edge squares.
    assert size(made, "folio") == (296, 210, 6)
    assert size(made, "cover") == (2 * 151, 214, 1)
    assert panels(made) == [("front", 0, 151), ("back", 151, 151)]
    assert folds(made, "cover") == [(151, 0, 151, 214)]
    assert folds(made, "folio") == [(148, 0, 148, 210)]
    # 210 − 2 × 20 leave 170 mm: four stretches of 42.5.
    at = (20, 62.5, 105, 147.5, 190)
    assert holes(made, "folio") == [(148, y, 0, i) for i, y in enumerate(at)]
    assert holes(made, "cover") == [(151, y + 2, 0, i) for i, y in enumerate(at)]
    # 6 folios and the cover cut; two holes for a station, in leaves and in cover.
    assert made.operations == {
        "cut": 7, "fold": 6, "score": 1, "punch": 10, "sew": 5, "finish": 1,
    }  # fmt: skip
    assert (made.leaves, made.pages, made.counts) == (12, 24, {})
    # 12 leaves × 0.12 and two covers × 0.3; five folios creep past the sixth.
    assert (made.thickness_nm, made.creep_nm) == (nm("2.04"), nm("0.6"))
    assert (made.closed_width_nm, made.closed_height_nm) == (nm(151), nm(214))
    assert (made.flap_nm, made.closing_lines) == (0, ())


def test_a_pamphlets_thread_is_both_ways_along_the_fold_eight_passes_and_the_tails() -> None:
    # Book-repair manuals, five holes: 3-2-1-2-4-5-4-3, so eight times through six folios and cover.
    made = a5_pamphlet(tails=60)
    [path] = made.thread
    through = nm("1.02")  # 6 × 0.12 + 0.3
    assert path.passes == 8
    assert path.pass_nm == through
    assert path.run_nm == nm(2 * 170)
    assert path.length_nm == nm("468.16")  # 340 + 8.16 + 120
    assert made.lengths == {"thread": nm("468.16")}
    assert made.amount("thread") == nm("468.16")
    assert {p.row for p in path.points} == {0}
    assert [p.station for p in path.points[::2]] == [2, 1, 0, 1, 3, 4, 3, 2]


@pytest.mark.parametrize(("knot", "inside"), [("inside", True), ("outside", False)])
def test_a_pamphlet_begins_and_ends_where_its_knot_lies(knot: str, inside: bool) -> None:
    [path] = a5_pamphlet(knot=knot).thread
    assert path.points[0].inside == path.points[-1].inside == inside
    assert path.places[0] == (0, nm(105), nm("1.02") if inside else 0)


def test_the_paper_of_a_pamphlet_weighs_its_area() -> None:
    made = a5_pamphlet()
    # 6 × 0.296 × 0.210 m² × 100 g = 37.296 g; 0.302 × 0.214 × 250 = 16.157 g.
    assert made.paper_weight_mg(PAPERS) == 53_453


def test_folios_are_trimmed_past_a_millimetre_of_creep_and_not_at_it() -> None:
    # Of eleven folios ten lie between the innermost and the outside: 10 × 0.1 mm are exactly one.
    even = build("pamphlet", leaves(0.1), folios=11)
    over = build("pamphlet", leaves("0.100001"), folios=11)
    assert even.creep_nm == MM
    assert even.operations["cut"] == 12
    assert over.operations["cut"] == 13
    assert "Trim the fore edge" not in steps(even)
    assert "Trim the fore edge of the signature" in steps(over)
    three = build("wrap_cover", leaves("0.100001"), folios=11, signatures=3)
    assert three.operations["cut"] == 33 + 1 + 3
    assert "Trim the fore edge of each signature" in steps(three)


@pytest.mark.parametrize(("folios", "words"), [(1, "one signature of 1 folio"),
                                               (2, "one signature of 2 folios")])  # fmt: skip
def test_one_folio_is_said_as_one(folios: int, words: str) -> None:
    made = build("pamphlet", folios=folios)
    assert made.made_of == words
    assert f"Cut {words[17:]} 240 mm wide" in steps(made)
    assert ("Fold it in the middle" in steps(made)) == (folios == 1)
    assert ("Nest them into one signature" in steps(made)) == (folios == 2)
    assert "stations: 25 mm, 80 mm and 135 mm from the head." in steps(made)
    assert "3 holes in the fold, the outer ones 25 mm" in steps(made)


def test_a_single_folio_is_a_signature_and_is_not_nested() -> None:
    assert "Each is a signature" not in steps(build("wrap_cover", signatures=1, folios=1))
    assert "Each is a signature" in steps(build("wrap_cover", signatures=2, folios=1))
    assert "Nest them in 2 signatures of 2" in steps(build("wrap_cover", signatures=2, folios=2))
    assert "Nest them into one" in steps(build("wrap_cover", signatures=1, folios=2))


def test_stations_that_fall_on_half_a_nanometre_go_to_the_tail() -> None:
    # The middle of 1 nm is half a nanometre; thirds of 100 nm are 33 1/3 and 66 2/3.
    assert even_stations(1, 3, 0) == (0, 1, 1)
    assert even_stations(120, 4, 10) == (10, 43, 77, 110)


def test_seven_stations_are_sewn_from_the_middle_to_the_head_and_mirrored() -> None:
    # The manuals' path for five carried on: 4-3-2-1-2-3-5-6-7-6-5-4, in and out by turns.
    points = pamphlet_path(7, 2, knot_inside=True)
    assert [p.station + 1 for p in points[::2]] == [4, 3, 2, 1, 2, 3, 5, 6, 7, 6, 5, 4]
    assert [p.inside for p in points[:4]] == [True, False, False, True]
    assert {p.row for p in points} == {2}


@pytest.mark.parametrize(
    ("rows", "offsets"),
    [(1, (0,)), (2, (-3, 3)), (3, (-7, 0, 7)), (4, (-10, -3, 3, 10)), (5, (-14, -7, 0, 7, 14))],
)
def test_rows_seven_nanometres_apart_lie_even_about_the_middle(
    rows: int, offsets: tuple[int, ...]
) -> None:
    # Halves of seven are 3.5 and 10.5, cut off towards the middle.
    assert row_offsets(rows, 7) == offsets


# --- a cover of one piece


def thick_journal(**dims: Any) -> Build:
    """Three signatures of eight folios of 0.2 mm with a tenth of swell, A5 across."""
    first = {"leaf_height": 200, "leaf_width": 140, "signatures": 3, "folios": 8, "swell": 10}
    return build("wrap_cover", leaves(0.2), **(first | dims))


def test_a_wrap_cover_of_three_thick_signatures_is_laid_out_as_worked_by_hand() -> None:
    made = thick_journal()
    # A signature: 16 leaves × 0.2 = 3.2, and 0.32 of swell: 3.52, so rows are 4 mm apart. The block
    # is 10.56; with the cover 10.86, but three rows want 12. Fore edge: 10.56 + 2 × 0.3, to 11.5.
    assert panels(made) == [
        ("front", 0, 146), ("spine", 146, 12), ("back", 158, 146), ("fore edge", 304, 11.5),
        ("flap", 315.5, 38.5),
    ]  # fmt: skip
    assert size(made, "cover") == (354, 210, 1)
    assert [x / MM for x in flat(made, "cover").scores] == [146, 158, 304, 315.5]
    # Rows 4 mm either side of the spine's middle at 152; 25 mm from the leaf's ends, 5 of square.
    assert holes(made, "cover") == [
        (x, y, row, i)
        for row, x in enumerate((148, 152, 156)) for i, y in enumerate((30, 105, 180))
    ]  # fmt: skip
    # A third of the flap is 16.7 mm; the eyelet lies no more than 10 from the edge.
    assert flat(made, "cover").closing_hole == (nm(344), nm(105))
    # Three layers of cover lie on the block, for the flap lies over the front: 11.46. The rows make
    # the spine thicker than that; a spine of 11 would not.
    assert made.thickness_nm == nm(12)
    assert thick_journal(spine=11).thickness_nm == nm("11.46")
    assert thick_journal(spine=11, wraps=0, flap=0).thickness_nm == nm("11.16")
    assert (made.closed_width_nm, made.closed_height_nm) == (nm(146), nm(210))
    assert (made.flap_nm, len(made.closing_lines), made.creep_nm) == (nm(50), 2, nm("1.4"))
    assert (made.leaves, made.made_of) == (48, "3 signatures of 8 folios")


def test_a_wrap_covers_thread_cord_beads_and_work_are_counted_by_hand() -> None:
    made = thick_journal()
    # A row: 150 mm there and back, four passes through 1.6 + 0.3 mm, two tails of 60.
    assert [path.length_nm for path in made.thread] == [nm("427.6")] * 3
    assert [{p.row for p in path.points} for path in made.thread] == [{0}, {1}, {2}]
    # The girth is 2 × (146 + 12) = 316. Two strands go round twice and end in a width each:
    # 2 × (632 + 146) and 40 for the hitch (common practice, no source).
    assert made.lengths == {"thread": nm("1282.8"), "cord": nm(1596)}
    assert thick_journal(cord_tail=100).lengths["cord"] == nm(1504)
    assert made.counts == {"beads": 6}
    # 24 folios, a cover, three signatures trimmed; 2 × 9 holes and the eyelet.
    assert made.operations == {
        "cut": 28, "fold": 24, "score": 4, "punch": 19, "sew": 9, "bead": 6, "tie": 1, "finish": 1,
    }  # fmt: skip
    plain = thick_journal(wraps=0, flap=0)
    assert plain.operations["cut"] == 28
    assert (plain.operations["punch"], plain.operations.get("tie")) == (18, None)
    assert plain.operations["score"] == 2
    assert flat(plain, "cover").closing_hole is None
    assert plain.lengths["cord"] == 0
    assert made.amount("beads") == 6
    assert made.amount("glitter") == 0
    words = steps(made)
    assert "Cut 3 lengths of thread, 427.6 mm each" in words
    assert "punch 9 holes, 3 rows, the first" in words
    assert "the outer ones 30 mm from the head and 30 mm from the tail" in words
    assert "Cut 2 lengths of thread, 427.6 mm each" in steps(thick_journal(signatures=2))
    assert "Cut 427.6 mm of thread." in steps(thick_journal(signatures=1))
    assert "punch 3 holes, one row: the outer" in steps(thick_journal(signatures=1))
    assert thick_journal(signatures=1, folios=1).made_of == "1 signature of 1 folio"


@pytest.mark.parametrize(
    ("typed", "spine", "rows"),
    [
        # 4 folios of 0.2: signatures of 1.6, rows never closer than two holes of 1.5 (common
        # practice, no source). Block 4.8, with the cover 5.1; three rows want 9.
        ({}, 9, (-3, 0, 3)),
        ({"row_pitch": 1.6}, 5.5, (-1.6, 0, 1.6)),
        ({"row_pitch": 1.8}, 5.5, (-1.8, 0, 1.8)),
        ({"row_pitch": 2}, 6, (-2, 0, 2)),
        ({"spine": 11}, 11, (-3, 0, 3)),
        # Sixteenths of 1.5875: rows of 3.175 want 9.525, which is six of them.
        ({"spine_step": "sixteenth"}, 9.525, (-3.175, 0, 3.175)),
    ],
)
def test_spine_and_rows_follow_the_thicker_of_block_and_holes(
    typed: dict[str, Any], spine: float, rows: tuple[float, ...]
) -> None:
    for key in ("wrap_cover", "long_stitch"):
        made = build(key, leaves(0.2), **({"signatures": 3, "folios": 4} | typed))
        assert panels(made)[1] == ("spine", 126, spine)
        middle = 126 * MM + nm(spine) // 2
        assert {h.x_nm - middle for h in flat(made, "cover").holes} == {nm(x) for x in rows}


@pytest.mark.parametrize(
    ("flap", "eyelet"), [(15, 6), (17.9, 6), (24, 8), (30, 10), (60, 10)]
)  # fmt: skip
def test_the_eyelet_lies_a_third_into_the_flap_between_six_and_ten_mm(
    flap: float, eyelet: float
) -> None:
    made = build("wrap_cover", flap=flap)
    hole = flat(made, "cover").closing_hole
    assert hole is not None
    assert flat(made, "cover").width_nm - hole[0] == nm(eyelet)


@pytest.mark.parametrize(("flap", "eyelet"), [(35.5, 8), (32.5, 7), (26, 6), (50, 10)])
def test_over_a_thick_block_the_eyelet_lies_a_third_into_what_is_left(
    flap: float, eyelet: float
) -> None:
    # The fore edge takes 11.5 of the flap: 24, 21, 14.5 and 38.5 are left.
    hole = flat(thick_journal(flap=flap), "cover").closing_hole
    assert hole == (nm(146 + 12 + 146 + flap - eyelet), nm(105))


@pytest.mark.parametrize(
    ("folios", "flap", "after"),
    [
        # Two signatures of ten folios: 40 leaves of 0.11 are 4.4, and two covers make 5.0.
        (10, "17", [("fore edge", "5"), ("flap", "12")]),
        (10, "16.999999", [("flap", "16.999999")]),
        # 36 leaves are 3.96, with covers 4.56: 5 as well. 32 are 3.52, with covers 4.12: only 4.5.
        (9, "17", [("fore edge", "5"), ("flap", "12")]),
        (8, "50", [("flap", "50")]),
    ],
)
def test_a_flap_is_scored_twice_from_five_mm_on_where_twelve_are_left_of_it(
    folios: int, flap: str, after: list[tuple[str, str]]
) -> None:
    # Common practice, no source; an eyelet keeps 6 mm from edge and score.
    made = build("wrap_cover", leaves(0.11), signatures=2, folios=folios, flap=flap)
    cover = flat(made, "cover")
    assert [(p.name, p.width_nm) for p in cover.panels[3:]] == [(n, nm(w)) for n, w in after]
    back = cover.panels[2]
    place = back.x_nm + back.width_nm
    assert place == nm(252) + cover.panels[1].width_nm
    for panel in cover.panels[3:]:
        assert panel.x_nm == place
        place += panel.width_nm
    assert cover.width_nm == place


def test_a_cover_without_a_flap_and_a_block_without_swell_need_not_say_so() -> None:
    dims = {"spine_step": "half", "cover_grain": "fold", "leaf_grain": "fold"}
    n = {"signatures": 2, "folios": 5, "row_pitch": 3 * MM, "spine": 0, "leaf_width": 90 * MM,
         "leaf_height": 120 * MM, "square": 0, "foreedge_square": 0, "stations": 3,
         "end_distance": 20 * MM}  # fmt: skip
    assert gather(dims, n, leaves(0.1)).block_nm == 2 * MM  # twenty leaves
    cover = wrapped_cover(dims, n, 2 * MM, 300_000)
    assert [p.width_nm for p in cover.panels] == [90 * MM, 6 * MM, 90 * MM]
    assert cover.width_nm == 186 * MM


# --- long stitch


def a6_long_stitch(**dims: Any) -> Build:
    """Three signatures of six folios of 0.2 mm, swollen by 30 %, A6 across."""
    first = {"leaf_height": 150, "leaf_width": 105, "signatures": 3, "folios": 6, "swell": 30}
    return build("long_stitch", leaves(0.2), **(first | dims))


def test_a_long_stitch_of_three_signatures_is_worked_out_by_hand() -> None:
    made = a6_long_stitch()
    # A signature: 12 × 0.2 = 2.4 and 0.72 of swell, 3.12: rows 3.5 apart, a spine of 10.5.
    assert panels(made) == [("front", 0, 111), ("spine", 111, 10.5), ("back", 121.5, 111)]
    assert size(made, "cover") == (232.5, 160, 1)
    assert size(made, "folio") == (210, 150, 18)
    assert {h.x_nm / MM for h in flat(made, "cover").holes} == {112.75, 116.25, 119.75}
    # 110 mm in three: 36.666 667 each, to the nearest nanometre.
    at = (20 * MM, 56_666_667, 93_333_333, 130 * MM)
    assert flat(made, "folio").stations_nm == at
    assert flat(made, "cover").closing_hole is None
    # 9.36 of block and two covers, three with a flap, where the spine is no wider than that. Five
    # folios creep 1 mm: no trimming.
    assert made.thickness_nm == nm("10.5")
    assert a6_long_stitch(spine=9.7).thickness_nm == nm("9.96")
    assert a6_long_stitch(spine=9.7, flap=40).thickness_nm == nm("10.26")
    assert (made.closed_width_nm, made.closed_height_nm) == (nm(111), nm(160))
    assert made.operations == {
        "cut": 19, "fold": 18, "score": 2, "punch": 24, "sew": 12, "finish": 1,
    }  # fmt: skip
    assert (made.leaves, made.creep_nm, made.flap_nm) == (36, MM, 0)
    assert a6_long_stitch(flap=40).flap_nm == nm(40)
    assert made.advice == ()
    assert (made.counts, made.lengths) == ({}, {"thread": nm(555)})


def test_one_thread_of_555_mm_sews_three_rows_of_long_stitch() -> None:
    # Three spans of 110, two crossings of 3.5, twelve passes of 1.2 + 0.3, two tails of 100.
    [path] = a6_long_stitch().thread
    assert path.length_nm == nm(330 + 7 + 18 + 200)
    order = [(p.row, p.station, p.inside) for p in path.points]
    down = [(0, False), (0, True), (1, True), (1, False), (2, False), (2, True), (3, True),
            (3, False)]  # fmt: skip
    up = [(3 - s, i) for s, i in down]
    assert order == [(row, *p) for row, way in enumerate((down, up, down)) for p in way]
    assert path.places[0] == (-nm("3.5"), nm(20), 0)
    assert path.places[1] == (-nm("3.5"), nm(20), nm("1.5"))
    assert path.places[8] == (0, nm(130), 0)
    assert "Cut 555 mm of thread" in steps(a6_long_stitch())


@pytest.mark.parametrize(
    ("signatures", "ends"),
    [
        # Sewn down, up, down, up: an even number of rows ends at the head, where it began.
        (2, "Both tails end outside at the head, side by side: tie them together and trim them."),
        (3, "One tail ends outside at the head of the first row, one at the tail of the last"),
        (4, "Both tails end outside at the head, of the first and of the last row"),
    ],
)
def test_the_tails_of_a_long_stitch_end_where_its_rows_lead(signatures: int, ends: str) -> None:
    assert ends in steps(build("long_stitch", signatures=signatures))


# --- small things that hold for all


def test_a_cover_may_be_twenty_millimetres_high_and_no_lower() -> None:
    # 60 − 2 × 20.
    for key in ("pamphlet", "wrap_cover", "long_stitch"):
        assert size(build(key, leaf_height=60, square=-20), "cover")[1] == 20
        with pytest.raises(DomainError, match="lower than 20 mm") as caught:
            build(key, leaf_height=60, square="-20.000001")
        assert caught.value.field == "square"


def test_grain_that_may_run_either_way_binds_no_piece() -> None:
    made = a5_pamphlet(leaf_grain="free")
    assert (flat(made, "folio").grain, flat(made, "cover").grain) == (None, "height")
    assert (made.pieces["leaves"][0].grain, made.pieces["cover"][0].grain) == (None, "height")


@pytest.mark.parametrize(
    ("places", "words"), [((30,), "1 stations: 30 mm from"), ((20, 40), "stations: 20 mm and 40 mm")]
)  # fmt: skip
def test_one_hole_is_named_alone_and_two_with_an_and(places: tuple[int, ...], words: str) -> None:
    kind = FolioKind(PLAIN, bare("text"), 1, 50 * MM, 60 * MM, 0, 0, (0,), "height")
    at = tuple(y * MM for y in places)
    last = folio_steps(Gathering((kind,), ((kind,),), 0, 0, 50 * MM, 60 * MM, at))[-1]
    assert words in last.say(lambda length: show_length(length, "mm"))


def test_no_thread_goes_nowhere_and_an_unknown_paper_weighs_nothing() -> None:
    none = ThreadPath((), (), 0)
    assert (none.pass_nm, none.length_nm, none.passes) == (0, 0, 0)
    assert bare("text") == PaperFacts("text", 0, Fraction(0))
    assert build("parts_list").paper_weight_mg({}) == 0


def test_words_are_no_length() -> None:
    assert length_of({"tails": 7}, "tails") == 7
    with pytest.raises(DomainError, match="whole number"):
        length_of({"tails": "seven"}, "tails")
