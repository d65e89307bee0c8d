"""Drawings say what the values say: every figure is read back out of the picture."""

from __future__ import annotations

import re
from fractions import Fraction
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.one_sheet.yields import Line, stairs, yield_of
from app.core.length import MM, show_length
from app.core.paper import Piece, Sheet
from app.core.structures import structure
from app.core.structures.base import Build, PaperFacts
from app.documents.drawings import (
    LEFT,
    TOP,
    flat_drawing,
    sheet_drawing,
    stairs_drawing,
)

FACTS = {
    "leaves": PaperFacts("text", 100_000, Fraction(80)),
    "cover": PaperFacts("card", 300_000, Fraction(250)),
}
WRAP = structure("wrap_cover")


def show(nm: int) -> str:
    return show_length(nm, "mm").removesuffix(" mm")


def build(**dims: int | str) -> Build:
    return WRAP.build(WRAP.checked(WRAP.defaults() | dims), FACTS)


def parts(svg: str, css: str) -> list[dict[str, str]]:
    """Attributes of every shape of a class."""
    tree = ElementTree.fromstring(svg)
    return [dict(e.attrib) for e in tree.iter() if css in (e.get("class") or "").split()]


def texts(svg: str) -> list[str]:
    return [e.text or "" for e in ElementTree.fromstring(svg).iter() if e.tag == "text"]


@settings(max_examples=25)
@given(st.integers(80, 400), st.integers(60, 300), st.integers(1, 6), st.sampled_from(["3", "5"]))
def test_the_cover_is_drawn_hole_for_hole(
    height: int, width: int, signatures: int, stations: str
) -> None:
    made = build(leaf_height=height * MM, leaf_width=width * MM, signatures=signatures,
                 stations=stations)  # fmt: skip
    assert made.cover is not None
    svg = flat_drawing(made.cover, show, "cover")
    [outline] = parts(svg, "card-stock")
    px = float(outline["width"]) / made.cover.width_nm
    drawn = {
        (round((float(h["cx"]) - LEFT) / px / MM), round((float(h["cy"]) - TOP) / px / MM))
        for h in parts(svg, "hole")
    }
    for hole in made.cover.holes:
        x, y = hole.x_nm / MM, hole.y_nm / MM
        assert any(abs(x - a) <= 1 and abs(y - b) <= 1 for a, b in drawn)
    assert len(parts(svg, "hole")) == len(made.cover.holes)
    assert float(outline["height"]) == pytest.approx(made.cover.height_nm * px, abs=0.02)
    folds = [(float(line["x1"]) - LEFT) / px for line in parts(svg, "fold")]
    assert folds == pytest.approx(list(made.cover.scores), rel=0.001)
    for panel in made.cover.panels:
        assert any(show(panel.width_nm) in text for text in texts(svg))


def test_the_folio_names_its_stations() -> None:
    folio = build().folio
    assert folio is not None
    svg = flat_drawing(folio, show, "folio")
    assert {"25", "80", "135", "240", "160", "grain"} <= set(texts(svg))
    free = build(leaf_grain="free").folio
    assert free is not None
    assert "grain" not in texts(flat_drawing(free, show, "folio"))


@pytest.mark.parametrize("grain", [None, "width", "height"])
def test_a_sheet_is_drawn_piece_for_piece(grain: str | None) -> None:
    cut = yield_of(Piece("p", 240 * MM, 160 * MM), Sheet("s", 560 * MM, 760 * MM, grain))
    svg = sheet_drawing(cut, show, "k")
    assert len(parts(svg, "piece")) == cut.best == len(cut.layout.pieces)
    [sheet] = parts(svg, "waste")
    px = float(sheet["width"]) / cut.layout.width_nm
    for shape, placed in zip(parts(svg, "piece"), cut.layout.pieces, strict=True):
        assert float(shape["x"]) == pytest.approx(LEFT + placed.x_nm * px, abs=0.02)
        assert float(shape["width"]) == pytest.approx(placed.width_nm * px, abs=0.02)
    assert bool(parts(svg, "grain")) == (grain is not None)


def test_stairs_mark_where_we_are_and_what_is_better() -> None:
    piece = Piece("folio", 240 * MM, 160 * MM, 12, "height")
    sheet = Sheet("s", 560 * MM, 760 * MM, "height")
    steps = stairs(piece, Line(0, 240 * MM), Line(1, 0), sheet, (130 * MM, 180 * MM))
    svg = stairs_drawing(steps, 130 * MM, 160 * MM, "leaf height", show, "k")
    assert len(parts(svg, "now")) == len(parts(svg, "better")) == 1
    assert "Now 8 at 160" in svg
    assert "10 up to 152" in svg


def test_every_picture_says_itself_and_keeps_its_ids() -> None:
    made = build()
    assert made.cover is not None
    svg = flat_drawing(made.cover, show, "mine")
    tree = ElementTree.fromstring(svg)
    assert tree.get("role") == "img"
    assert tree.get("aria-labelledby") == "mine-title mine-says"
    ids = re.findall(r' id="([^"]+)"', svg)
    assert ids == ["mine-title", "mine-says"]
