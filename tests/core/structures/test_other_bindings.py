"""Shared rows, woven spines, strips, one sheet, pads and punched edges, worked out by hand.

Checked against: filing holes of ISO 838 (in two encyclopedias); pitch and number of holes for wire
on the side of A4 and on 11 in, and what wire takes (an encyclopedia, makers' tables); a strip of
12 in for two pages of 5 1/2 in and a tab (a craft page); a pad's backing card, two thin coats and
about 40 sheets (printers' pages). All else is common practice, no source, or geometry.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import INCH, MM, show_length
from app.core.structures import structure
from app.core.structures.base import Build, PaperFacts
from app.core.structures.one_sheet import LOWER, UPPER
from app.core.structures.pamphlet_rows import sharing
from app.core.structures.wire_bound import PUNCHED
from app.documents.drawings import flat_drawing
from app.documents.sewing import spoken, thread_drawing
from app.documents.templates import template_svg, templates

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


# --- several signatures through shared rows


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
    # Three of 1.6 share a row: rows lie 4.8, to half a millimetre 5, apart; the spine takes both.
    xs = sorted({h.x_nm for h in made.cover.holes})
    assert xs[1] - xs[0] == 5 * MM
    assert made.cover.panels[1].width_nm == 10 * MM
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
    assert typed.cover.panels[1].width_nm == 12 * MM


@given(st.integers(2, 12), st.integers(1, 2))
def test_rows_share_signatures_evenly_and_in_order(signatures: int, rows: int) -> None:
    found = sharing(signatures, rows)
    assert [number for row in found for number in row] == list(range(signatures))
    assert len(found) == rows
    assert max(map(len, found)) - min(map(len, found)) <= 1
    assert len(found[0]) >= len(found[-1])


# --- woven across the spine


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


# --- strips


def test_a_published_strip() -> None:
    # A strip of 12 in has two pages of 5 1/2 in and a tab of 1 in.
    page = 11 * INCH // 2
    made = built("concertina", panels=6, panels_each=2, leaf_width=page, tab=INCH)
    assert made.flat("strip") is not None
    assert sizes(made)["strip"][0] == pytest.approx(12 * 25.4)
    # n panels of w in k strips: n·w + (k − 1)·tab.
    total = sum(f.count * f.width_nm for f in made.flats if f.key in ("strip", "last"))
    assert total == 6 * page + 2 * INCH


def test_a_concertina_with_pockets_by_hand() -> None:
    made, plain = built("concertina", pocket=40 * MM), built("concertina")
    assert sizes(made)["strip"] == (492, 200, 2)
    assert sizes(made)["last"] == (480, 200, 1)
    assert sizes(made)["board"] == sizes(plain)["board"]
    strip = made.flat("strip")
    assert strip is not None
    assert strip.folds[-1] == (0, 160 * MM, 492 * MM, 160 * MM)
    assert len(strip.folds) == 5
    # Every layer lies twice, and each of the three lengths has a fold more.
    assert made.thickness_nm - plain.thickness_nm == 14 * 100_000
    assert made.operations["concertina_fold"] == 11 + 3
    assert made.amounts["paste"] - plain.amounts["paste"] == 2 * 12 * 40 // 10
    assert "Score 40 mm from the tail of every length" in steps(made)
    assert "pockets" not in steps(plain)
    assert made.advice == ()
    assert "A pocket of 19.99 mm hardly holds" in said(built("concertina", pocket=19_990_000))[0]
    assert built("concertina", pocket=20 * MM).advice == ()
    with pytest.raises(DomainError, match="lower than its panel") as caught:
        built("concertina", pocket=160 * MM)
    assert caught.value.field == "pocket"
    assert built("concertina", pocket=159 * MM).pieces


def test_signatures_in_a_concertina_by_hand() -> None:
    made = built("concertina_sewn")
    # Panels 3 past the leaf: 123 × 166; four on a length with a tab of 12, the last without.
    assert sizes(made) == {
        "board": (129, 172, 2), "covering": (159, 202, 2), "strip": (504, 166, 2),
        "last": (492, 166, 1), "folio": (240, 160, 18),
    }  # fmt: skip
    strip, last = made.flat("strip"), made.flat("last")
    assert strip is not None
    assert last is not None
    # A row in every second fold; stations 25, 80 and 135 of the leaf, 3 below the panel's head.
    places = [(h.x_nm / MM, h.y_nm / MM, h.row) for h in strip.holes]
    assert places == [(x, y, row) for row, x in enumerate((123, 369)) for y in (28, 83, 138)]
    assert [h.x_nm for h in last.holes] == [h.x_nm for h in strip.holes]
    assert made.operations == {
        "cut": 18 + 3 + 2 + 2, "fold": 18, "concertina_fold": 11, "punch": 36, "sew": 18,
        "glue": 6, "finish": 1,
    }  # fmt: skip
    # 2 × 110, four passes through three folios and the strip, and tails of 60.
    assert made.lengths["thread"] == 6 * (340 * MM + 4 * (3 * 100_000 + 200_000))
    # Leaves, fourteen layers of strip, boards, four of covering.
    assert made.thickness_nm == 36 * 100_000 + 14 * 200_000 + 4 * MM + 4 * 300_000
    assert (made.closed_width_nm, made.closed_height_nm) == (129 * MM, 172 * MM)
    glued = 2 * 159 * 202 + 2 * 123 * 166 + 2 * 12 * 166
    assert made.amounts["paste"] == glued // 10
    assert made.advice == ()
    text = steps(made)
    order = [
        "punch 3 stations", "Cut 2 lengths 504", "Fold to and fro every 123", "Punch each of the 6",
        "Glue each tab", "Sew each signature into its own", "Cut two boards", "glue the outward face",
    ]  # fmt: skip
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)
    assert "valley, 3 mm from the head of the strip" in text
    guides = [t.flat.stations_nm for t in templates(made) if t.key.endswith("-guide")]
    assert sorted(guides) == [tuple(y * MM for y in at) for at in ((25, 80, 135), (28, 83, 138))]


def test_one_signature_in_a_concertina_and_bare_boards() -> None:
    made = built("concertina_sewn", signatures=1, turn_in=0)
    assert "strip" in sizes(made)
    assert "last" not in sizes(made)
    assert "covering" not in sizes(made)
    assert sizes(made)["strip"] == (246, 166, 1)
    assert made.operations["glue"] == 2
    assert made.operations["cut"] == 3 + 1 + 2
    assert made.amounts["paste"] == 2 * 123 * 166 // 10
    assert "Punch the valley," in steps(made)
    assert "Sew the signature into its valley" in steps(made)


def test_what_does_not_go_well_in_a_concertina_is_told() -> None:
    assert said(built("concertina_sewn", strip_grain="free")) == [
        "The grain of the strip may run either way: a fold across the grain cracks and will not lie "
        "flat. Choose “along the fold” where the paper has a grain."
    ]
    assert built("concertina_sewn", strip_past=200_000).advice == ()
    [creeping] = built("concertina_sewn", strip_past=199_999).advice
    assert creeping.field == "strip_past"
    assert "creeps 0.2 mm" in creeping.say(show)
    assert "Let them stand 2 mm past it." in creeping.say(show)
    [loose] = built("concertina_sewn", tab=6 * MM - 1).advice
    assert (loose.field, loose.grave) == ("tab", True)
    assert built("concertina_sewn", tab=6 * MM).advice == ()
    # Ten panels of 150 on a length.
    assert built("concertina_sewn", signatures=5, on_each=5, leaf_width=147 * MM).advice == ()
    [long] = built("concertina_sewn", signatures=5, on_each=5, leaf_width=148 * MM).advice
    assert long.field == "on_each"
    assert [a.field for a in built("concertina", panels=12, panels_each=12,
                                   leaf_width=126 * MM).advice] == ["panels_each"]  # fmt: skip


# --- one sheet


def test_one_sheet_by_hand() -> None:
    made = built("one_sheet")
    # A7 pages, 74 × 105, from 296 × 210: A4 but for a millimetre.
    assert sizes(made) == {"sheet": (296, 210, 1)}
    sheet = made.flats[0]
    assert sheet.cuts == ((74 * MM, 105 * MM, 222 * MM, 105 * MM),)
    assert sheet.folds == (
        *((x * MM, 0, x * MM, 210 * MM) for x in (74, 148, 222)),
        (0, 105 * MM, 74 * MM, 105 * MM), (222 * MM, 105 * MM, 296 * MM, 105 * MM),
    )  # fmt: skip
    assert (made.leaves, made.pages) == (4, 8)
    assert made.thickness_nm == 8 * 100_000
    assert (made.closed_width_nm, made.closed_height_nm) == (74 * MM, 105 * MM)
    assert made.operations == {"cut": 1, "sheet_fold": 6, "finish": 1}
    assert [label for _, _, label in sheet.labels] == [
        "5, head down", "6", "4, head down", "7", "3, head down", "8", "2, head down", "1",
    ]  # fmt: skip
    assert [(x / MM, y / MM) for x, y, _ in sheet.labels[:2]] == [(37, 52.5), (37, 157.5)]
    assert made.advice == ()
    assert sheet.grain == "height"
    assert 'class="slit"' in flat_drawing(sheet, show, "s")
    [template] = templates(made)
    drawn = template_svg(template, "One")
    assert '<line class="slit" stroke-width="0.5" x1="74" y1="105" x2="222" y2="105"/>' in drawn
    assert "from the head, rub" in steps(made)
    assert "Slit it along the long fold over the two middle panels, 74 mm from either side" in (
        steps(made)
    )


def test_pages_follow_from_the_folding() -> None:
    """Folded to a cross seen from above, panels lie round it; each leaf is two back to back.

    The slit parts the middle panels: the lower ones stand out in front, the upper ones behind, and
    the outer ones of both rows lie back to back. Round the cross come, from the front on: lower 3
    and 4, upper 4, 3, 2 and 1, lower 1 and 2; the first of them is the back of the book.
    """
    round_ = [LOWER[2], LOWER[3], UPPER[3], UPPER[2], UPPER[1], UPPER[0], LOWER[0], LOWER[1]]
    assert round_ == [8, 1, 2, 3, 4, 5, 6, 7]
    # Leaves: 1 with 2, 3 with 4, 5 with 6, 7 with 8 back to back.
    leaves = [
        (LOWER[3], UPPER[3]),
        (UPPER[2], UPPER[1]),
        (UPPER[0], LOWER[0]),
        (LOWER[1], LOWER[2]),
    ]
    assert leaves == [(1, 2), (3, 4), (5, 6), (7, 8)]


def test_thick_paper_for_one_sheet_is_told() -> None:
    assert built("one_sheet", calipers={"leaves": 300_000}).advice == ()
    [thick] = said(built("one_sheet", calipers={"leaves": 300_001}))
    assert thick.startswith("Paper 0.3 mm thick does not fold")
    assert "sheet may run either way" in said(built("one_sheet", leaf_grain="free"))[0]


# --- pads


def test_a_pad_as_printers_make_it() -> None:
    made = built("glued_pad")
    # About forty sheets on a backing card, two thin coats.
    assert sizes(made) == {"leaf": (120, 160, 40), "backing": (120, 160, 1)}
    assert "Brush 2 thin coats of padding glue" in steps(made)
    assert made.operations == {"cut": 41, "pad": 2, "finish": 1}
    assert made.thickness_nm == 40 * 100_000 + 500_000
    # Two coats on an edge of 120 by 4.5, a tenth of a milligram a square millimetre.
    assert made.amounts["paste"] == 2 * 120 * 9 // 2 // 10
    assert {f.grain for f in made.flats} == {"width"}
    assert made.made_of == "40 leaves glued at the head"
    assert made.advice == ()
    assert "until the head is one even edge, 120 mm long" in steps(made)


def test_a_pad_glued_at_the_side_with_a_top_sheet() -> None:
    made = built("glued_pad", glued="side", top="cover", coats=1, leaf_grain="free")
    assert sizes(made)["top"] == (120, 160, 1)
    assert {p.name for pieces in made.pieces.values() for p in pieces} == {
        "leaf", "backing card", "top sheet",
    }  # fmt: skip
    assert made.thickness_nm == 40 * 100_000 + 500_000 + 300_000
    assert made.amounts["paste"] == 160 * 48 // 10 // 10
    assert made.operations["cut"] == 42
    assert [a.field for a in made.advice] == ["coats", "leaf_grain"]
    assert {f.grain for f in made.flats} == {None}
    assert built("glued_pad", glued="side").flats[0].grain == "height"
    assert "a backing card and a top sheet of the same size and grain" in steps(made)
    assert "Knock the leaves up on the backing card, the top sheet on top until the side" in (
        steps(made)
    )
    assert "Brush one coat of" in steps(made)
    assert built("glued_pad", leaves=120).advice == ()
    assert [a.field for a in built("glued_pad", leaves=121).advice] == ["leaves"]


# --- holes along an edge


@pytest.mark.parametrize(
    ("held", "edge", "count"),
    [
        # What shops punch; the edge itself would hold one more.
        ("wire3", 297 * MM, 34), ("wire2", 297 * MM, 23),
        ("wire3", 11 * INCH, 32), ("wire2", 11 * INCH, 21),
    ],
)  # fmt: skip
def test_published_numbers_of_holes_for_wire(held: str, edge: int, count: int) -> None:
    places = PUNCHED[held].places(edge)
    assert len(places) == count
    pitch = {"wire3": 8.4667, "wire2": 12.7}[held]
    for a, b in pairwise(places):
        assert (b - a) / MM == pytest.approx(pitch, abs=1e-4)
    # In the middle of the edge, to a nanometre.
    assert abs(places[0] + places[-1] - edge) <= 1
    assert places[0] >= 7 * MM
    # The distance from the edge that holes keep leaves room for no other.
    assert places[0] - pitch * MM < 7 * MM


def test_filing_holes_of_iso_838() -> None:
    made = built("wire_bound", held="file2", leaf_height=297 * MM, leaf_width=210 * MM)
    leaf = made.flat("leaf")
    assert leaf is not None
    assert [(h.x_nm / MM, h.y_nm / MM) for h in leaf.holes] == [(12, 108.5), (12, 188.5)]
    four = PUNCHED["file4"].places(297 * MM)
    assert [y / MM for y in four] == [28.5, 108.5, 188.5, 268.5]
    assert PUNCHED["file2"].across_nm == 6 * MM
    # No sheet lower than 100 mm.
    assert built("wire_bound", held="file2", leaf_height=100 * MM).pieces
    with pytest.raises(DomainError, match="a file, two holes do not go") as caught:
        built("wire_bound", held="file2", leaf_height=100 * MM - 1)
    assert caught.value.field == "leaf_height"
    # Rings of as many holes go on a lower one: three on eleven inches 4 1/4 in apart.
    assert built("wire_bound", held="rings2", leaf_height=95 * MM).pieces
    three = PUNCHED["rings3"].places(11 * INCH)
    assert [Fraction(y, INCH) for y in three] == [Fraction(5, 4), Fraction(11, 2), Fraction(39, 4)]
    assert PUNCHED["file4"].places(252 * MM) == tuple(y * MM for y in (6, 86, 166, 246))
    assert PUNCHED["file4"].places(252 * MM - 2) == ()
    assert PUNCHED["wire2"].places(20 * MM) == ()


def test_a_notebook_on_wire_by_hand() -> None:
    made = built("wire_bound")
    # Of 160 the middle 146 hold 17 spaces of 8.4667: 18 holes, the outer ones 8.03 from the ends.
    assert made.counts == {"loops": 18, "rings": 0}
    assert sizes(made) == {"cover": (120, 160, 2), "leaf": (120, 160, 60)}
    leaf, cover = made.flat("leaf"), made.cover
    assert leaf is not None
    assert cover is not None
    assert leaf.holes == cover.holes
    assert {h.x_nm for h in leaf.holes} == {6 * MM}
    # 6.6 mm thick: four handfuls of 2.
    assert made.thickness_nm == 6_600_000
    assert made.operations == {"cut": 62, "punch_edge": 4, "close_wire": 1, "finish": 1}
    assert made.made_of == "60 leaves on wire, 3 to the inch"
    assert (made.closed_width_nm, made.closed_height_nm) == (120 * MM, 160 * MM)
    assert made.advice == ()
    assert "Punch 18 holes by the template along the left edge" in steps(made)
    assert "6 mm from the edge to the middle of a hole, the outer ones 8.03 mm from" in steps(made)
    assert "Hang them on 18 loops of wire" in steps(made)
    rings = built("wire_bound", held="rings2")
    assert rings.counts == {"loops": 0, "rings": 2}
    assert "Put 2 rings through covers and leaves" in steps(rings)
    assert rings.cover is not None
    assert {h.x_nm for h in rings.cover.holes} == {12 * MM}
    filed = built("wire_bound", held="file2", margin=10 * MM)
    assert filed.counts == {"loops": 0, "rings": 0}
    assert filed.operations["close_wire"] == 0
    assert "they go into a file" in steps(filed)
    assert filed.cover is not None
    assert {h.x_nm for h in filed.cover.holes} == {10 * MM}


def test_what_wire_takes_and_holes_that_tear() -> None:
    # 120 sheets of 80 g/m², 0.1 mm, on three loops to the inch; 250 on two (makers' tables; the
    # thickness of such a sheet from memory).
    covers = {"cover": 0}
    assert built("wire_bound", leaves=120, calipers=covers).advice == ()
    [thick] = built("wire_bound", leaves=121, calipers=covers).advice
    assert (thick.field, thick.grave) == ("leaves", True)
    assert "Take fewer leaves, or two loops to the inch." in thick.say(show)
    assert built("wire_bound", held="wire2", leaves=250, calipers=covers).advice == ()
    [thicker] = said(built("wire_bound", held="wire2", leaves=251, calipers=covers))
    assert thicker.endswith("takes 25 mm. Take fewer leaves.")
    assert built("wire_bound", held="rings2", leaves=400).advice == ()
    # Half a hole of 4 and 1.5 of paper.
    assert built("wire_bound", margin=3_500_000).advice == ()
    [near] = built("wire_bound", margin=3_499_999).advice
    assert (near.field, near.grave) == ("margin", True)
    assert "Holes 4 mm wide" in near.say(show)
    assert built("wire_bound", margin=40 * MM).advice == ()
    [far] = built("wire_bound", margin=40 * MM + 1).advice
    assert (far.field, far.grave) == ("margin", False)
    assert built("wire_bound", margin=60 * MM).advice[0].grave is False
    assert built("wire_bound", margin=60 * MM, leaf_width=119 * MM).advice[0].grave is True
    free = built("wire_bound", leaf_grain="free", cover_grain="free")
    assert [a.field for a in free.advice] == ["leaf_grain", "cover_grain"]
