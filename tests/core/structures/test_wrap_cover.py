"""The wrap cover: layout, thread, cord and warnings, against manuals and the trade's own habits."""

from __future__ import annotations

import itertools
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, METRE, MM, show_length
from app.core.structures import all_operations, structure, structures
from app.core.structures.base import Build, PaperFacts
from app.core.structures.closings.cord import cord_length
from app.core.structures.sewing import even_stations, pamphlet_path, row_offsets
from app.core.structures.thread import ThreadPath

THIN = {
    "leaves": PaperFacts("text", 100_000, Fraction(80)),
    "cover": PaperFacts("card", 300_000, Fraction(250)),
}
WRAP = structure("wrap_cover")


def build(papers: dict[str, PaperFacts] | None = None, **dims: Any) -> Build:
    return WRAP.build(WRAP.checked(WRAP.defaults() | dims), papers or THIN)


def said(made: Build) -> str:
    return " ".join(a.say(lambda nm: show_length(nm, "mm")) for a in made.advice)


@pytest.mark.parametrize("folios", [1, 4, 7])
def test_two_leaves_and_four_pages_to_a_folded_sheet(folios: int) -> None:
    # Bonadea, conservation book of the Alaska State Library, 1995: n sheets make 2n leaves and 4n
    # pages (4 sheets, 16 pages).
    made = build(signatures=1, folios=folios)
    assert (made.leaves, made.pages) == (2 * folios, 4 * folios)


def test_three_hole_path_of_the_manuals() -> None:
    # Book-repair manuals: 2-1-3-2.
    assert order(pamphlet_path(3, 0, knot_inside=True)) == [2, 1, 3, 2]


def test_five_hole_path_of_the_manuals() -> None:
    # Book-repair manuals: 3-4-5-4-2-1-2-3; ours begins towards the head and is its mirror image.
    mirror = [6 - station for station in order(pamphlet_path(5, 0, knot_inside=True))]
    assert mirror == [3, 4, 5, 4, 2, 1, 2, 3]


def order(points: Any) -> list[int]:
    """Stations in the order the needle goes through them, counted from 1."""
    return [a.station + 1 for a, b in zip(points[::2], points[1::2], strict=True)]


@pytest.mark.parametrize("stations", [3, 5, 7])
def test_thread_runs_twice_the_distance_of_the_outer_stations(stations: int) -> None:
    # Length computed from the manuals' paths: 2 × distance of the outer stations, plus tails.
    at = tuple(17 * MM + i * 31 * MM for i in range(stations))
    path = ThreadPath.through_fold(
        pamphlet_path(stations, 0, knot_inside=True), at, (0,) * stations, 60 * MM
    )
    assert path.run_nm == 2 * (at[-1] - at[0])
    assert path.length_nm == path.run_nm + 120 * MM


def test_every_stretch_is_run_once_on_each_side() -> None:
    points = pamphlet_path(5, 0, knot_inside=False)
    runs: dict[tuple[int, bool], int] = {}
    for a, b in itertools.pairwise(points):
        assert a.station == b.station or a.inside == b.inside
        low, high = sorted((a.station, b.station))
        for stretch in range(low, high):
            runs[stretch, a.inside] = runs.get((stretch, a.inside), 0) + 1
    assert runs == {(stretch, side): 1 for stretch in range(4) for side in (True, False)}
    assert not points[0].inside
    assert not points[-1].inside


def test_worked_thread_of_340_mm_and_the_passes() -> None:
    # Computed: 3 stations at 25, 80 and 135 mm and 60 mm tails need 340 mm and the passes.
    path = build(signatures=1).thread[0]
    assert path.stations_nm == (25 * MM, 80 * MM, 135 * MM)
    assert path.length_nm - path.passes * path.pass_nm == 340 * MM
    assert path.passes == 4
    assert path.pass_nm == 4 * 100_000 + 300_000


@pytest.mark.parametrize(("tails_each", "total"), [("2", "21"), ("3", "23"), ("17/8", "85/4")])
def test_thread_for_a_back_of_eight_and_a_half_inches(tails_each: str, total: str) -> None:
    # A book-repair manual: twice the height and 4 to 6 in more; 8 1/2 in high, 21 to 23 in. The
    # Indiana University manual: 2 1/2 heights, 21 1/4 in, which leaves tails of 2 1/8 in.
    path = ThreadPath.through_fold(
        pamphlet_path(5, 0, knot_inside=True),
        even_stations(17 * INCH // 2, 5, 0), (0,) * 5, int(Fraction(tails_each) * INCH),
    )  # fmt: skip
    assert path.length_nm == Fraction(total) * INCH


def test_stations_are_odd_and_three_quarters_to_one_inch_from_the_ends() -> None:
    # Book-repair manual and Colgate University: an odd number, the outer ¾ to 1 in from the ends.
    dimension = {d.key: d for d in WRAP.dimensions}
    assert {int(key) % 2 for key, _ in dimension["stations"].choices} == {1}
    default = dimension["end_distance"].default
    assert isinstance(default, int)
    assert Fraction(3, 4) * INCH <= default <= INCH


@pytest.mark.parametrize(("folios", "creep"), [(1, "0"), (2, ".005"), (3, ".010"), (4, ".015")])
def test_creep_of_a_printers_table(folios: int, creep: str) -> None:
    # A printers' creep table: sheets of 0.005 in push out 0, .005, .010, .015 in.
    sheet = PaperFacts("text", 5 * INCH // 1000, Fraction(100))
    assert build(THIN | {"leaves": sheet}, folios=folios).creep_nm == Fraction(creep) * INCH


@pytest.mark.parametrize(("height", "words"), [(7 * INCH, True), (7 * INCH - 1, False)])
def test_five_stations_from_seven_inches(height: int, words: bool) -> None:
    # Book-repair manual: three holes under 7 in, else five.
    assert ("punch five" in said(build(leaf_height=height))) == words
    assert "punch five" not in said(build(leaf_height=height, stations="5"))


def test_without_wraps_there_is_no_cord_and_no_bead() -> None:
    made = build(wraps=0)
    assert made.lengths["cord"] == made.counts["beads"] == 0
    assert not {"bead", "tie"} & set(made.operations)


def test_closed_thickness_counts_the_layers_of_the_cover() -> None:
    block = 2 * 3 * 4 * 100_000
    close = 1_100_000
    made = build(row_pitch=close, spine=1)
    assert made.thickness_nm == block + 3 * 300_000
    assert build(flap=0, wraps=0, row_pitch=close, spine=1).thickness_nm == block + 2 * 300_000
    # Rows no closer than they can be punched make a spine of 9 mm: no parcel is thinner.
    assert build().thickness_nm == 3 * 3 * MM


def test_a_cover_with_hardly_any_height_is_refused() -> None:
    with pytest.raises(DomainError, match="hardly any cover") as caught:
        build(square=-80 * MM)
    assert caught.value.field == "square"


def test_rows_an_eighth_of_an_inch_apart() -> None:
    # Common practice, no source: two rows 1/16 in either side of the fold, the middle one of
    # three on it.
    pitch = INCH // 8
    assert row_offsets(2, pitch) == (-INCH // 16, INCH // 16)
    assert row_offsets(3, pitch) == (-pitch, 0, pitch)
    assert row_offsets(1, pitch) == (0,)


def test_stations_of_a_nine_by_seven_folio_in_an_eight_inch_cover() -> None:
    # Common practice, no source: 1, 3 1/2 and 6 in on the leaf, 1 1/2, 4 and 6 1/2 in on the cover.
    made = build(
        leaf_height=7 * INCH, leaf_width=9 * INCH // 2, square=INCH // 2, end_distance=INCH
    )
    assert made.folio is not None
    assert made.cover is not None
    assert made.folio.width_nm == 9 * INCH
    assert made.folio.stations_nm == (INCH, 7 * INCH // 2, 6 * INCH)
    assert made.cover.height_nm == 8 * INCH
    assert {h.y_nm for h in made.cover.holes} == {3 * INCH // 2, 4 * INCH, 13 * INCH // 2}


def test_flap_wraps_and_beads_first_offered() -> None:
    # Common practice, no source: a flap of about 2 in, two wraps, three beads on each end.
    first = WRAP.defaults()
    assert abs(int(first["flap"]) - 2 * INCH) < 2 * MM
    assert (first["wraps"], first["beads_each_end"]) == (2, 3)
    assert build().counts["beads"] == 6


def test_cover_is_panels_spine_and_flap() -> None:
    made = build()
    assert made.cover is not None
    assert [(p.name, p.width_nm // MM) for p in made.cover.panels] == [
        ("front", 126), ("spine", 9), ("back", 126), ("flap", 50),
    ]  # fmt: skip
    assert made.cover.width_nm == sum(p.width_nm for p in made.cover.panels)
    assert made.cover.height_nm == 170 * MM
    assert made.pieces["cover"][0].width_nm == made.cover.width_nm


def test_cord_goes_round_doubled_and_leaves_tails() -> None:
    # Common practice, no source: two wraps of the doubled cord are four turns of the single.
    length = cord_length(
        wraps=2, closed_width_nm=126 * MM, thickness_nm=12 * MM, tail_nm=126 * MM, hitch_nm=44 * MM
    )
    assert length == (4 * 276 + 2 * 126 + 44) * MM
    assert cord_length(wraps=0, closed_width_nm=1, thickness_nm=1, tail_nm=1, hitch_nm=1) == 0


@given(
    st.integers(60, 400), st.integers(40, 300), st.integers(1, 8), st.integers(1, 12),
    st.sampled_from(["3", "5", "7"]), st.integers(0, 20), st.integers(0, 10),
)  # fmt: skip
def test_holes_of_page_and_cover_meet(
    height: int, width: int, signatures: int, folios: int, stations: str, square: int, pitch: int
) -> None:
    made = build(
        leaf_height=height * MM, leaf_width=width * MM, signatures=signatures, folios=folios,
        stations=stations, square=square * MM, row_pitch=pitch * MM, end_distance=15 * MM,
    )  # fmt: skip
    assert made.cover is not None
    assert made.folio is not None
    for hole in made.cover.holes:
        assert hole.y_nm - square * MM == made.folio.stations_nm[hole.station]
    rows = sorted({h.x_nm for h in made.cover.holes})
    spine = made.cover.panels[1]
    middle = spine.x_nm + spine.width_nm // 2
    assert abs(rows[0] + rows[-1] - 2 * middle) <= 1
    assert spine.x_nm <= rows[0]
    assert rows[-1] <= spine.x_nm + spine.width_nm
    assert made.lengths["thread"] == sum(path.length_nm for path in made.thread)
    assert len(made.thread) == signatures


def test_weight_is_area_times_grammage() -> None:
    made = build(signatures=1, folios=1)
    (folio,), (cover,) = made.pieces["leaves"], made.pieces["cover"]
    grams = Fraction(folio.width_nm * folio.height_nm * 80, 10**18)
    grams += Fraction(cover.width_nm * cover.height_nm * 250, 10**18)
    assert made.paper_weight_mg(THIN) == grams * 1000


THICK = THIN | {"leaves": PaperFacts("watercolour", 500_000, Fraction(300))}


@pytest.mark.parametrize(
    ("papers", "dims", "words"),
    [
        (THIN, {"square": 0}, ["160 mm high and the leaf 160 mm", "3 mm", "166 mm"]),
        (THIN, {"square": -5 * MM}, ["150 mm high and the leaf 160 mm"]),
        (THIN, {"end_distance": 4 * MM}, ["4 mm from head and tail", "6 mm"]),
        (THIN, {"end_distance": 79 * MM}, ["too close for the stations"]),
        (THIN, {"end_distance": 90 * MM}, ["0 mm apart is too close"]),
        (THIN, {"row_pitch": MM}, ["Rows 1 mm apart", "3 mm"]),
        (THIN, {"leaf_grain": "free"}, ["grain of the leaves", "cracks"]),
        (THIN, {"cover_grain": "free"}, ["grain of the cover"]),
        (THICK, {"folios": 12}, ["12 folios of 0.5 mm paper make a fold 6 mm", "Take 5 folios",
                                 "creeps 5.5 mm"]),
        (THICK, {"flap": 10 * MM}, ["flap of 10 mm", "12.9 mm thick", "37.9 mm"]),
        (THIN, {"flap": 5 * MM // 2}, ["flap of 2.5 mm", "3.3 mm thick"]),
        (THIN, {"flap": 0}, ["no flap to loop the cord through"]),
        (THIN, {"spine": 5 * MM, "signatures": 8}, ["rows of holes want 24 mm"]),
        (THICK, {"spine": 5 * MM}, ["spine is 5 mm", "12 mm"]),
        (THIN, {"tails": 900 * MM}, ["of thread", "1500 mm"]),
        (THIN, {"wraps": 9}, ["of cord", "4 m", "children"]),
    ],
)  # fmt: skip
def test_what_will_not_work_is_said_with_figure_and_mend(
    papers: dict[str, PaperFacts], dims: dict[str, Any], words: list[str]
) -> None:
    text = said(build(papers, **dims))
    for word in words:
        assert word in text


def test_a_sound_journal_is_not_warned_about() -> None:
    assert build().advice == ()


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("leaf_height", 5 * MM, "between 20 mm and 1000 mm"),
        ("signatures", 0, "between 1 and 24"),
        ("stations", "4", "none of those offered"),
        ("folios", "three", "whole number"),
        ("folios", True, "whole number"),
    ],
)
def test_nonsense_is_refused_at_its_dimension(key: str, value: Any, message: str) -> None:
    with pytest.raises(DomainError, match=message) as caught:
        WRAP.checked(WRAP.defaults() | {key: value})
    assert caught.value.field == key


def test_a_missing_dimension_is_named() -> None:
    dims = WRAP.defaults()
    del dims["flap"]
    with pytest.raises(DomainError, match="Flap is missing"):
        WRAP.checked(dims)


def test_structures_are_found_by_their_modules() -> None:
    assert structures()["wrap_cover"].key == WRAP.key
    assert {op.key for op in WRAP.operations} <= set(all_operations())
    with pytest.raises(DomainError, match="no structure"):
        structure("scroll")


def test_operations_count_what_is_done() -> None:
    made = build(signatures=2, folios=3, stations="5")
    assert made.operations == {
        "cut": 7, "fold": 6, "score": 3, "punch": 21, "sew": 10, "bead": 6, "tie": 1, "finish": 1,
    }  # fmt: skip
    finish = {"corner", "edge", "stamp", "emboss"}
    assert set(made.operations) == {op.key for op in WRAP.operations} - finish


def test_long_cord_is_shown_in_metres() -> None:
    assert show_length(2 * METRE, "mm") == "2 m"
