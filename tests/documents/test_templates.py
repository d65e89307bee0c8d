"""Templates at full size, measured in the PDF and the SVG they were written to."""

from __future__ import annotations

import io
import itertools
import re
from collections.abc import Callable
from fractions import Fraction
from xml.etree import ElementTree

import pdfplumber
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.core.length import INCH, MM, show_length
from app.core.structures import structure_for, structures
from app.core.structures.base import Build, PaperFacts
from app.documents.templates import (
    MARGIN_NM,
    OVERLAP_NM,
    Template,
    room_on,
    template_pdf,
    template_svg,
    templates,
    tiles,
)

PAPERS = {r.key for made in structures().values() for r in made.roles if r.measure == "sheet"}
FACTS = {role: PaperFacts(role, 150_000, Fraction(120)) for role in PAPERS}
KEYS = [key for key in sorted(structures()) if key != "parts_list"]
POINT_MM = 25.4 / 72


def build(key: str, **dims: int | str) -> Build:
    made = structure_for(key, dims)
    return made.build(made.checked(made.defaults() | dims), FACTS)


def show(nm: int) -> str:
    return show_length(nm, "mm")


def pages(found: list[Template], page: str = "A4") -> list[pdfplumber.page.Page]:
    made = template_pdf(found, "Plain journal, design 1", show, page)
    return list(pdfplumber.open(io.BytesIO(made)).pages)


def circles(page: pdfplumber.page.Page, least: float, most: float) -> set[tuple[float, float]]:
    """Middles of circles of a size, in mm from the page's top left corner."""
    return {
        (
            round((c["x0"] + c["x1"]) / 2 * POINT_MM, 3),
            round((c["top"] + c["bottom"]) / 2 * POINT_MM, 3),
        )
        for c in page.curves
        if least <= (c["x1"] - c["x0"]) <= most
    }


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("key", KEYS)
def test_the_check_lines_measure_true_on_every_page(key: str, page: str) -> None:
    for sheet in pages(templates(build(key)), page):
        width, height = sorted((float(sheet.width), float(sheet.height)))
        expected = (595.276, 841.89) if page == "A4" else (612.0, 792.0)
        assert (width, height) == pytest.approx(expected, abs=0.01)
        level = [abs(x["x1"] - x["x0"]) * POINT_MM for x in sheet.lines
                 if abs(x["top"] - x["bottom"]) < 0.01]  # fmt: skip
        assert any(abs(length - 100) < 0.1 for length in level)
        assert any(abs(length - 101.6) < 0.1 for length in level)
        text = sheet.extract_text()
        assert "100 mm" in text
        assert "4 in" in text
        assert "Plain journal, design 1" in text
        assert "100%" in text


@pytest.mark.parametrize("key", KEYS)
def test_holes_in_the_pdf_are_those_of_the_design(key: str) -> None:
    for template in templates(build(key)):
        flat = template.flat
        for wide in (False, True):
            room = room_on("A4", landscape=wide)
            if len(tiles(flat.width_nm, flat.height_nm, room)) == 1:
                break
        else:
            continue
        [sheet] = pages([template])
        holes = {
            (round((h.x_nm + MARGIN_NM) / MM, 3), round((h.y_nm + MARGIN_NM) / MM, 3))
            for h in flat.holes
        }
        drawn = circles(sheet, 2.0, 3.0)
        assert len(drawn) == len(holes)
        for x, y in holes:
            assert any(abs(x - a) < 0.02 and abs(y - b) < 0.02 for a, b in drawn)


@pytest.mark.parametrize("key", KEYS)
def test_holes_in_the_svg_are_those_of_the_design(key: str) -> None:
    for template in templates(build(key)):
        tree = ElementTree.fromstring(template_svg(template, "Plain <journal>"))
        space = "{http://www.w3.org/2000/svg}"
        drawn = [
            (Fraction(c.attrib["cx"]) * MM, Fraction(c.attrib["cy"]) * MM)
            for c in tree.iter(f"{space}circle")
            if c.get("class") == "hole"
        ]
        assert drawn == [(h.x_nm, h.y_nm) for h in template.flat.holes]
        width = Fraction(tree.attrib["width"].removesuffix("mm"))
        assert tree.attrib["viewBox"].split()[2] == tree.attrib["width"].removesuffix("mm")
        assert width >= Fraction(template.flat.width_nm, MM)
        lines = [x for x in tree.iter(f"{space}line") if x.get("class") == "check"]
        assert [Fraction(x.attrib["x2"]) for x in lines] == [100, Fraction(4 * INCH, MM)]


def test_signature_guide_and_cover_meet() -> None:
    made = build("wrap_cover", square=7 * MM)
    found = {t.key: t.flat for t in templates(made)}
    assert set(found) == {"cover", "folio-guide"}
    guide = [h.y_nm + 7 * MM for h in found["folio-guide"].holes]
    assert sorted({h.y_nm for h in found["cover"].holes}) == guide


@given(st.integers(5, 2500), st.integers(5, 2500), st.sampled_from(["A4", "Letter"]), st.booleans())
def test_tiles_cover_everything_and_join(width: int, height: int, page: str, wide: bool) -> None:
    room = room_on(page, landscape=wide)
    found = tiles(width * MM, height * MM, room)
    for tile in found:
        assert 0 < tile.width_nm <= room[0]
        assert 0 < tile.height_nm <= room[1]
    columns = sorted({(t.x_nm, t.width_nm) for t in found})
    rows = sorted({(t.y_nm, t.height_nm) for t in found})
    assert len(found) == len(columns) * len(rows)
    for stretches, whole in ((columns, width * MM), (rows, height * MM)):
        assert stretches[0][0] == 0
        assert stretches[-1][0] + stretches[-1][1] == whole
        for (a, length), (b, _) in itertools.pairwise(stretches):
            assert a + length - b == OVERLAP_NM


def test_a_hole_in_the_overlap_is_on_both_tiles_at_one_place() -> None:
    made = build("wrap_cover", leaf_width=230 * MM, leaf_height=300 * MM)
    [cover] = [t for t in templates(made) if t.key == "cover"]
    flat = cover.flat
    ways = [tiles(flat.width_nm, flat.height_nm, room_on("A4", landscape=w)) for w in (False, True)]
    used = min(ways, key=len)
    assert len(used) > 2
    sheets = pages([cover])
    assert len(sheets) == len(used)
    found: set[tuple[float, float]] = set()
    for tile, sheet in zip(used, sheets, strict=True):
        place = f"row {tile.row + 1} of {max(t.row for t in used) + 1}"
        assert place in sheet.extract_text()
        for x, y in circles(sheet, 2.0, 3.0):
            found.add(
                (
                    round(x + (tile.x_nm - MARGIN_NM) / MM, 1),
                    round(y + (tile.y_nm - MARGIN_NM) / MM, 1),
                )
            )
    holes = {(round(h.x_nm / MM, 1), round(h.y_nm / MM, 1)) for h in flat.holes}
    assert (
        holes
        <= {(x + dx, y + dy) for x, y in found for dx in (0, 0.1, -0.1) for dy in (0, 0.1, -0.1)}
        | found
    )


def test_the_same_design_gives_the_same_file() -> None:
    found = templates(build("wrap_cover"))
    assert template_pdf(found, "A", show) == template_pdf(found, "A", show)
    assert re.match(rb"%PDF-1\.\d", template_pdf(found, "A", show))
    assert template_pdf(found, "Ōkami – “journal”", show)


@pytest.mark.parametrize(
    "name",
    ["Ōkami’s “journal” – Łódź", "Ιστορία", "Дневник, чай", "Þórdís & Žofie", "ngữ pháp", "½ × ″"],
)
def test_every_name_prints_as_it_is_written(name: str) -> None:
    """The letters are in the file, so that no printer puts a question mark in their place."""
    made = template_pdf(templates(build("pamphlet")), name, show)
    text = "".join(p.extract_text() for p in pdfplumber.open(io.BytesIO(made)).pages)
    assert name.replace(" ", "") in text.replace(" ", "").replace("\n", "")
    fonts = {c["fontname"] for p in pdfplumber.open(io.BytesIO(made)).pages for c in p.chars}
    assert fonts
    assert all("DejaVuSans" in font for font in fonts)
    assert made.count(b"/FontFile2") >= 2


SIZES: tuple[dict[str, int], ...] = (
    {"leaf_height": 74 * MM, "leaf_width": 52 * MM},
    {},
    {"leaf_height": 297 * MM, "leaf_width": 210 * MM},
)


def inches(nm: int) -> str:
    return show_length(nm, "in")


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("how", [show, inches])
@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("size", SIZES)
def test_63_103_and_143_mm_are_not_printed_as_3_mm(
    key: str, size: dict[str, int], how: Callable[[int], str], page: str
) -> None:
    """Every station's figure stands whole on a page, beside its hole and within the page's clip."""
    if key == "folded_card" and size:
        size = size | {"flap": size["leaf_height"] * 2 // 5}
    for template in templates(build(key, **size)):
        wanted = {how(y).replace(" ", "") for y in template.flat.stations_nm}
        seen: set[str] = set()
        made = template_pdf([template], "J", how, page)
        for sheet in pdfplumber.open(io.BytesIO(made)).pages:
            for figure in wanted:
                for word in _figures(sheet, figure):
                    assert word["x0"] >= MARGIN_NM / MM / POINT_MM - 2
                    assert word["x1"] <= float(sheet.width) - MARGIN_NM / MM / POINT_MM + 2
                    seen.add(figure)
        assert seen == wanted, f"{template.key}: {wanted - seen} is clipped"


def _figures(sheet: pdfplumber.page.Page, figure: str) -> list[dict[str, float]]:
    """Where a figure stands whole, as its letters lie one after the other."""
    chars = [c for c in sheet.chars if abs(c["size"] - 7) < 0.01]
    lines: dict[float, list[dict[str, float]]] = {}
    for char in chars:
        lines.setdefault(round(char["top"], 1), []).append(char)
    found = []
    for line in lines.values():
        text = "".join(str(c["text"]) for c in line)
        if text.replace(" ", "") == figure:
            found.append({"x0": min(c["x0"] for c in line), "x1": max(c["x1"] for c in line)})
    return found


def test_boards_that_are_punched_for_a_closing_have_a_template() -> None:
    assert "board" not in {t.key for t in templates(build("case_bound"))}
    for key in ("case_bound", "concertina", "concertina_sewn"):
        assert "board" in {t.key for t in templates(build(key, closing="ties"))}


def test_a_guide_holds_every_hole_of_a_pattern_and_one_fold_of_a_strip() -> None:
    [leaf] = [t for t in templates(build("side_sewn", pattern="noble", margin=60 * MM))
              if t.key == "leaf-guide"]  # fmt: skip
    # Holes 60 and 30 from the spine, 20 to either side of them; the line is that of the stitches.
    assert (leaf.flat.width_nm, len(leaf.flat.holes)) == (70 * MM, 6)
    assert {h.x_nm for h in leaf.flat.holes} == {20 * MM, 50 * MM}
    assert leaf.flat.folds[0][0] == 50 * MM
    [strip] = [t for t in templates(build("concertina_sewn", leaf_width=40 * MM))
               if t.key == "strip-guide"]  # fmt: skip
    assert len(strip.flat.holes) == 3
    assert {h.x_nm for h in strip.flat.holes} == {20 * MM}
