"""One folded sheet, glued pads and punched edges, worked out by hand.

Checked against: filing holes of ISO 838 (in two encyclopedias); pitch and number of holes for wire
on the side of A4 and on 11 in, and what wire takes (an encyclopedia, makers' tables); a pad's
backing card, two thin coats and about 40 sheets (printers' pages).
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from app.core.errors import DomainError
from app.core.length import INCH, MM, show_length
from app.core.structures import structure
from app.core.structures.base import Build, PaperFacts
from app.core.structures.one_sheet import LOWER, UPPER
from app.core.structures.wire_bound import PUNCHED
from app.documents.drawings import flat_drawing
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
    assert made.operations == {"cut": 1, "sheet_fold": 6, "wrap_up": 1}
    assert [label for _, _, label in sheet.labels if label != "head down"] == [
        "5", "6", "4", "7", "3", "8", "2", "1",
    ]  # fmt: skip
    assert [(x / MM, y / MM, said) for x, y, said in sheet.labels[:3]] == [
        (37, 52.5, "5"), (37, 65.625, "head down"), (37, 157.5, "6"),
    ]  # fmt: skip
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


def test_a_pad_as_printers_make_it() -> None:
    made = built("glued_pad")
    # About forty sheets on a backing card, two thin coats.
    assert sizes(made) == {"leaf": (120, 160, 40), "backing": (120, 160, 1)}
    assert "Brush 2 thin coats of padding glue" in steps(made)
    assert made.operations == {"cut": 41, "pad": 2, "wrap_up": 1}
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
    assert made.operations == {"cut": 62, "punch_edge": 4, "close_wire": 1, "wrap_up": 1}
    assert made.made_of == "60 leaves on wire, 3 to the inch"
    assert (made.closed_width_nm, made.closed_height_nm) == (120 * MM, 160 * MM)
    assert made.advice == ()
    assert "Punch 18 holes by the template along the left edge" in steps(made)
    assert "6 mm from the edge to the middle of a hole, the outer ones 8.03 mm from" in steps(made)
    assert "Hang them on 18 loops of wire" in steps(made)
    rings = built("wire_bound", held="rings2")
    assert rings.counts == {"loops": 0, "rings": 2}
    assert "Put 2 rings, 19 mm wide inside or more, through covers and leaves" in steps(rings)
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
