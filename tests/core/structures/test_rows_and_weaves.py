"""Signatures that share rows of holes, and threads woven across a spine, worked out by hand.

How they are sewn is common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from app.core.length import MM, show_length
from app.core.structures import structure
from app.core.structures.base import Build, PaperFacts
from app.core.structures.pamphlet_rows import sharing
from app.documents.sewing import spoken, thread_drawing

CALIPERS = {"leaves": 100_000, "boards": 2 * MM, "strip": 200_000, "backing": 500_000}


def built(key: str, *, calipers: dict[str, int] | None = None, **dims: Any) -> Build:
    made = structure(key)
    known = CALIPERS | (calipers or {})
    papers = {
        r.key: PaperFacts(r.key, known.get(r.key, 300_000), Fraction(100)) for r in made.roles
    }
    return made.build(made.checked(made.defaults() | dims), papers)


def show(nm: int) -> str:
    return show_length(nm, "mm")


def said(made: Build) -> list[str]:
    return [a.say(show) for a in made.advice]


def steps(made: Build) -> str:
    return " ".join(s.say(show) for s in made.steps)


def sizes(made: Build) -> dict[str, tuple[float, float, int]]:
    return {f.key: (f.width_nm / MM, f.height_nm / MM, f.count) for f in made.flats}


def test_two_signatures_through_one_row() -> None:
    made = built("pamphlet_rows")
    assert made.cover is not None
    # Two of four folios of 0.1: a block of 1.6 and the cover of 0.3, to half a millimetre 2; one
    # row takes two signatures, 1.6 and no closer than 3.
    assert [(p.name, p.width_nm / MM) for p in made.cover.panels] == [
        ("front", 126), ("spine", 3), ("back", 126),
    ]  # fmt: skip
    assert [(h.x_nm / MM, h.y_nm / MM) for h in made.cover.holes] == [
        (127.5, 30), (127.5, 85), (127.5, 140),
    ]  # fmt: skip
    assert made.operations == {
        "cut": 9, "fold": 8, "score": 2, "punch": 9, "sew": 6, "finish": 1,
    }  # fmt: skip
    # Each 2 × 110, four passes through 0.4 and 0.3, and two tails of 60.
    assert made.lengths["thread"] == 2 * (220 + 120) * MM + 2 * 4 * 700_000
    assert made.made_of == "2 signatures of 4 folios through one row"
    assert (made.thickness_nm, made.edge_nm) == (3 * MM, 1_600_000 + 600_000)
    assert (made.closed_width_nm, made.closed_height_nm) == (126 * MM, 170 * MM)
    assert made.advice == ()
    assert "signatures 1 and 2 through the row. Where a thread" in steps(made)


def test_five_signatures_through_two_rows() -> None:
    made = built("pamphlet_rows", signatures=5, rows="2", folios=8)
    assert made.cover is not None
    # Three of 1.6 lie in one row and two in the other: their middles 4 apart, 8 thick in all.
    xs = sorted({h.x_nm for h in made.cover.holes})
    assert xs[1] - xs[0] == 4 * MM
    assert made.cover.panels[1].width_nm == 8_500_000
    assert len(made.cover.holes) == 6
    assert made.operations["punch"] == 15 + 6
    assert len(made.thread) == 5
    assert "signatures 1, 2 and 3 through row 1; signatures 4 and 5 through row 2" in steps(made)
    assert made.made_of.endswith("through two rows")
    assert said(made) == [
        "3 signatures go through the same holes, which tear, and the signatures lean: 2 are what a "
        "row holds. Take fewer signatures, or a cover with a row for each."
    ]
    assert "Take two rows, or a cover with a row" in said(built("pamphlet_rows", signatures=3))[0]
    assert built("pamphlet_rows", signatures=4, rows="2").advice == ()
    typed = built("pamphlet_rows", signatures=4, rows="2", row_pitch=6 * MM)
    assert typed.cover is not None
    # Rows 6 apart and a hole's width past either.
    assert typed.cover.panels[1].width_nm == 9 * MM
    alone = built("pamphlet_rows", signatures=2, rows="1", row_pitch=30 * MM)
    assert alone.cover is not None
    assert alone.cover.panels[1].width_nm == 3 * MM


def test_uneven_signatures_want_no_more_than_they_are_thick() -> None:
    from app.core.structures import structure_for

    dims: dict[str, Any] = {
        "signatures": 4, "folios": 2, "folio2_count": 10, "folio2_where": "first",
        "folio2_beside": "with", "folio2_inside": 1, "folio2_width": 0, "folio2_height": 0,
        "folio2_at": "middle", "folio2_grain": "fold",
    }  # fmt: skip
    made = structure_for("pamphlet_rows", dims)
    papers = {r.key: PaperFacts(r.key, 100_000, Fraction(100)) for r in made.roles}
    found = made.build(made.checked(made.defaults() | dims), papers)
    assert found.cover is not None
    # Eight plain folios and ten more, twice 0.1 each: 3.6, and the cover.
    assert found.cover.panels[1].width_nm == 4 * MM


def test_rows_that_crowd_or_lie_past_the_spine_are_told() -> None:
    crowded = built("pamphlet_rows", signatures=4, rows="2", folios=10, row_pitch=3 * MM)
    # Twice two signatures of 2 mm: middles 4 apart.
    assert [(a.field, a.grave) for a in crowded.advice] == [("row_pitch", False)]
    assert "middles lie 4 mm apart. Leave 4 mm between" in said(crowded)[0]
    assert built("pamphlet_rows", signatures=4, rows="2", folios=10, row_pitch=4 * MM).advice == ()
    fits = built("pamphlet_rows", signatures=2, rows="2", row_pitch=6 * MM, spine=9 * MM)
    assert fits.advice == ()
    past = built("pamphlet_rows", signatures=2, rows="2", row_pitch=6 * MM, spine=9 * MM - 1)
    assert [(a.field, a.grave) for a in past.advice] == [("spine", True)]
    assert "two rows 6 mm apart want 9 mm" in said(past)[0]


@given(st.integers(2, 12), st.integers(1, 2))
def test_rows_share_signatures_evenly_and_in_order(signatures: int, rows: int) -> None:
    found = sharing(signatures, rows)
    assert [number for row in found for number in row] == list(range(signatures))
    assert len(found) == rows
    assert max(map(len, found)) - min(map(len, found)) <= 1
    assert len(found[0]) >= len(found[-1])


def test_a_woven_spine_by_hand() -> None:
    made = built("long_stitch", woven=3)
    plain = built("long_stitch")
    assert len(made.thread) == 2
    weft = made.thread[1]
    # Four rows 3 apart: three times 9 across; of the stitch of 40 a quarter down between; 2 tails.
    assert weft.length_nm == 3 * 9 * MM + 2 * 10 * MM + 200 * MM
    assert made.lengths["thread"] == plain.lengths["thread"] + weft.length_nm
    assert made.operations == {**plain.operations, "weave": 3}
    assert [(p.row, p.inside) for p in weft.points] == [
        (0, False), (1, True), (2, False), (3, True),
        (3, False), (2, True), (1, False), (0, True),
        (0, False), (1, True), (2, False), (3, True),
    ]  # fmt: skip
    assert [q[1] / MM for q in weft.places[::4]] == [70, 80, 90]
    assert "Cut a length of thread, 247 mm. With a blunt needle weave it across" in steps(made)
    assert ", 3 times, over and under in turn" in steps(made)
    assert said(made) == []
    assert spoken(weft, show)[:3] == [
        "Begin over the stitch of row 1, a tail of 100 mm left.", "Under the stitch of row 2.",
        "Over the stitch of row 3.",
    ]  # fmt: skip
    assert thread_drawing(weft, show, "w").count('class="thread-step') == len(weft.points) - 1


def test_a_woven_spine_at_each_height_that_shows() -> None:
    made = built("long_stitch", woven=1, stations="6")
    # Six stations 24 apart: the second and fourth stretches lie outside.
    assert [path.places[0][1] / MM for path in made.thread[1:]] == [56, 104]
    assert made.operations["weave"] == 2
    assert "Cut 2 lengths of thread, " in steps(made)
    assert (
        " each. With a blunt needle weave one across the stitches that show on the spine, at "
        in (steps(made))
    )
    assert "height, once, over" in steps(made)
    assert len(built("long_stitch", woven=1, stations="8").thread) == 4


@given(st.integers(3, 10), st.integers(1, 40))
def test_neighbouring_threads_cross_a_stitch_on_opposite_sides(rows: int, woven: int) -> None:
    weft = built("long_stitch", signatures=rows, woven=woven).thread[1]
    assert len(weft.points) == rows * woven
    for a, b in pairwise(weft.points):
        assert a.inside != b.inside or a.row == b.row
    over: dict[int, list[bool]] = {}
    for point in weft.points:
        over.setdefault(point.row, []).append(point.inside)
    for sides in over.values():
        assert all(a != b for a, b in pairwise(sides))


def test_weaving_that_comes_to_nothing_is_told() -> None:
    assert "Over 2 stitches nothing is woven: it takes 3 or more signatures." in said(
        built("long_stitch", signatures=2, woven=2)
    )
    assert said(built("long_stitch", signatures=3, woven=2)) == []
    # A stitch of 40 takes 39 threads a millimetre apart.
    assert said(built("long_stitch", woven=39)) == []
    [crowded] = said(built("long_stitch", woven=40))
    assert crowded.startswith("Woven so often, threads lie 0.98 mm apart on a stitch 40 mm long;")
