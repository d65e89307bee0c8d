"""What journals are kept closed with: lengths and holes by hand, and on every structure they fit.

Lengths follow the girth by arithmetic; measures of practice have no published source (common
practice). Holes are held against where flap and front come to lie on one another.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core import structures as whole
from app.core.length import MM, show_length
from app.core.structures import closings as package
from app.core.structures import structure, structure_for, structures
from app.core.structures.base import Build, PaperFacts
from app.core.structures.closing import clear_of, has_covers, has_flap
from app.core.structures.closings import all_closings
from app.core.structures.common import LAWS, for_customers
from app.documents.drawings import closed_drawing, flat_drawing
from app.documents.templates import template_pdf, templates

EVERY = sorted(all_closings())
PAIRS = [
    (key, closing.key)
    for key, made in structures().items()
    for closing in all_closings().values()
    if closing.fits(made)
]


def show(nm: int) -> str:
    return show_length(nm, "mm")


def build(key: str = "wrap_cover", **dims: Any) -> Build:
    made = structure_for(key, dims)
    papers = {r.key: PaperFacts(r.key, 150_000, Fraction(100)) for r in made.roles}
    papers["cover"] = PaperFacts("card", 300_000, Fraction(250))
    return made.build(made.checked(made.defaults() | dims), papers)


def says(made: Build) -> str:
    return " ".join(s.say(show) for s in made.steps)


def warns(made: Build) -> str:
    return " ".join(a.say(show) for a in made.advice)


def holes(made: Build, key: str = "cover") -> list[tuple[float, float]]:
    flat = made.flat(key)
    assert flat is not None
    return [(x / MM, y / MM) for x, y in flat.eyelets]


def test_there_are_seven_and_none() -> None:
    assert EVERY == ["button", "cord", "elastic", "magnet", "strap", "ties", "toggle"]
    first = {key: made.closing for key, made in structures().items()}
    assert first == {key: "cord" if key == "wrap_cover" else "none" for key in structures()}


def test_where_they_fit() -> None:
    flaps = {key for key, made in structures().items() if has_flap(made)}
    assert flaps == {"wrap_cover", "long_stitch"}
    covers = {key for key, made in structures().items() if has_covers(made)}
    assert covers == {
        *flaps, "pamphlet", "pamphlet_rows", "side_sewn", "chain_stitch", "concertina",
        "concertina_sewn", "case_bound", "wire_bound",
    }  # fmt: skip
    for closing in all_closings().values():
        fits = {key for key, made in structures().items() if closing.fits(made)}
        assert fits == (covers if closing.key in ("ties", "elastic", "strap") else flaps)


# A leaf of 160 by 120 in three signatures of four folios of 0.15: the cover is 170 high, front and
# back 126 wide; block 3.6, spine 9, so that the closed journal is 9 thick at the spine, and with both
# covers 4.2 at the fore edge: a girth of 2 × 126 + 9 + 4.2 = 265.2. The flap of 50 is scored once
# and goes round the fore edge first: it reaches 45.8 over the front.


def test_nothing_by_hand() -> None:
    made = build(closing="none")
    assert set(made.lengths) == {"thread"}
    assert holes(made) == []
    assert "bead" not in made.operations
    assert made.thickness_nm == 9 * MM


def test_ties_by_hand() -> None:
    made = build(closing="ties", tie_pairs=2)
    # Four ties of 220 and 30 for the knot.
    assert made.lengths["ties"] == 4 * 250 * MM
    assert made.operations["fit_tie"] == 4
    width = made.flats[0].width_nm / MM
    thirds = [56.666666, 113.333333]
    # Past the edge of the flap on the front, and in the flap.
    assert holes(made) == [(x, pytest.approx(y)) for x in (55.8, width - 10) for y in thirds]
    bare = build(closing="ties", flap=0)
    assert [x for x, _ in holes(bare)] == [10, bare.flats[0].width_nm / MM - 10]
    assert "Cut 4 ties, 250 mm each" in says(made)
    assert made.advice == ()
    # 155 on a journal of 9 leave 146 to tie; 160 leave 151.
    assert "leaves 146 mm to tie: a bow wants 150 mm. Make it 160 mm." in warns(
        build(closing="ties", tie_length=155 * MM)
    )
    assert build(closing="ties", tie_length=160 * MM).advice == ()
    assert build(closing="ties", tie_length=159 * MM).advice == ()


def test_elastic_by_hand() -> None:
    made = build(closing="elastic", elastic_stretch=25)
    # Down the front 170, round head and tail 4.2 each and 10 to the holes: 198.4, cut as 158.72.
    assert made.lengths["elastic"] == Fraction("158.72") * MM + 40 * MM
    # The back ends 15 from the fore edge: front 126, spine 9, back 126.
    assert holes(made) == [(246, 10), (246, 160)]
    assert made.operations["fit_elastic"] == 1
    round_it = build(closing="elastic", elastic_way="round", elastic_stretch=0)
    assert round_it.lengths["elastic"] == Fraction("265.2") * MM + 40 * MM
    # In the back, 15 from the spine, clear of the sewing.
    assert holes(round_it) == [(150, 81), (150, 89)]
    assert "punch the two holes of the band, in the back alone, near the spine, by" in says(
        round_it
    )


@pytest.mark.parametrize(
    ("stretch", "said"),
    [(4, "hardly holds"), (5, ""), (35, ""), (36, "bends the cover")],
)
def test_elastic_too_loose_or_too_tight_is_told(stretch: int, said: str) -> None:
    told = warns(build(closing="elastic", elastic_stretch=stretch))
    assert said in told
    assert bool(told) == bool(said)


def test_buttons_by_hand() -> None:
    made = build(closing="button")
    # Wound three times: 30 there and back and round two buttons of 15, which is 22/7 of them; a
    # tail of 60 and 20 for the knot.
    assert made.lengths["string"] == 3 * (60 * MM + 47_142_858) + 80 * MM
    assert made.counts["buttons"] == 2
    # The flap's hole lies 10 from its edge: 35.8 from the fore edge when closed; the other 30 on.
    width = made.flats[0].width_nm / MM
    assert holes(made) == [(width - 10, 85), (65.8, 85)]
    assert "wind the string round both buttons 3 times" in says(made)
    assert made.advice == ()
    # A front of 126 has room to 120.
    assert build(closing="button", button_apart=84 * MM).advice == ()
    told = build(closing="button", button_apart=85 * MM)
    assert [a.field for a in told.advice if a.grave] == ["button_apart"]
    # Clear of the flap's edge by 2: 10 to the edge, half of 15, and 2.
    assert build(closing="button", button_apart=19_500_000).advice == ()
    near = warns(build(closing="button", button_apart=19 * MM))
    assert "Buttons 15 mm across, 19 mm apart, touch" in near
    assert "Leave 19.5 mm between them." in near
    large = warns(build(closing="button", button_apart=50 * MM, button_across=50 * MM))
    assert "Leave 52 mm between them." in large


def test_a_toggle_by_hand() -> None:
    made = build(closing="toggle")
    # A loop twice the toggle and two ends inside, and a stay of two ends.
    assert made.lengths["loop"] == (2 * 25 + 2 * 30 + 2 * 30) * MM
    assert made.counts["toggle"] == 1
    width = made.flats[0].width_nm / MM
    # Over the end of the toggle the loop of 25 is the long side of a triangle with 12.5: the other
    # is 21.65, from the flap's hole at 35.8.
    assert holes(made) == [(width - 10, 85), (57.450635, 85)]
    assert "Cut 110 mm of cord" in says(made)
    told = build(closing="toggle", toggle_length=120 * MM, flap=80 * MM)
    # 75.8 − 10 and 103.92 of a front of 126.
    assert "would lie 169.72 mm from its fore edge; the front is 126 mm wide" in warns(told)


def test_a_strap_by_hand() -> None:
    made = build(closing="strap")
    # The girth of 265.2, 60 past the buckle and 30 round its bar.
    assert made.lengths["strap"] == Fraction("355.2") * MM
    assert made.counts["buckle"] == 1
    assert made.operations["fit_strap"] == 1
    # In the middle of the back: 126 + 9 + 63.
    assert holes(made) == [(186, 85), (210, 85)]
    # Closed, the bar lies 60 from the tip: a hole there, one 12 to either side.
    assert "Punch 3 holes in its other end, 12 mm apart, the first 48 mm from the tip" in says(made)
    told = warns(build(closing="strap", strap_holes=12))
    # 60 − 6 × 12 is before the tip; ten of it are wanted.
    assert "12 holes 12 mm apart about the buckle would begin 0 mm from the tip" in told
    assert "Make the overlap 82 mm" in told
    assert build(closing="strap", strap_holes=9).advice == ()
    # Of an even number one lies at the girth as well, 60 from the tip.
    four = says(build(closing="strap", strap_holes=4))
    assert "Punch 4 holes in its other end, 12 mm apart, the first 36 mm from the tip" in four
    assert "done up in hole 3 from the tip" in four
    assert build(closing="strap", strap_holes=12, strap_overlap=82 * MM).advice == ()
    assert build(closing="strap", strap_holes=12, strap_overlap=81 * MM).advice != ()


def test_magnets_by_hand() -> None:
    made = build(closing="magnet", magnet_pairs=2, magnet_across=12 * MM)
    assert made.counts["magnets"] == 4
    cover = made.cover
    assert cover is not None
    # 6 of edge and half of 12 from the flap's edge; closed, 45.8 − 12 from the fore edge of the front.
    marks = [(x / MM, round(y / MM, 2)) for x, y, _ in cover.labels]
    right = cover.width_nm / MM - 12
    assert marks == [(right, 56.67), (33.8, 56.67), (right, 113.33), (33.8, 113.33)]
    assert holes(made) == []
    assert "Swallowed magnets injure gravely" in says(made)
    assert "from the fore edge of the front, from the head 56.67 mm, 113.33 mm." in says(made)
    # A flap of 26 reaches 21.8 over the front, one of 26.2 the 22 that are wanted.
    narrow = build(closing="magnet", flap=26 * MM, magnet_across=10 * MM)
    assert "reaches 21.8 mm over the front: magnets 10 mm across have no room" in warns(narrow)
    assert "Make it 0.2 mm wider." in warns(narrow)
    assert "Mark the places" not in says(narrow)
    wide = build(closing="magnet", flap=26_200_000, magnet_across=10 * MM)
    assert not [a for a in wide.advice if a.grave]


@pytest.mark.parametrize("closing", ["button", "toggle", "magnet"])
def test_what_needs_a_flap_says_so(closing: str) -> None:
    made = build(closing=closing, flap=0)
    [told] = [a for a in made.advice if a.field == "flap"]
    assert told.grave
    assert "Give the flap 50 mm" in told.say(show)
    assert holes(made) == []


def test_flap_and_front_meet() -> None:
    """What is punched in the flap lies where it is said to when the flap is folded over."""
    for flap in (40, 50, 80):
        for closing in ("button", "toggle"):
            made = build(closing=closing, flap=flap * MM)
            cover = made.cover
            assert cover is not None
            (flap_x, _), (front_x, _) = cover.eyelets
            fold = cover.panels[-1].x_nm
            # Folded over at its last score, which lies at the fore edge of the front, or with one
            # score alone after it went round that.
            lies = flap_x - fold - (0 if len(cover.panels) > 4 else 4_200_000)
            assert front_x - lies == (30 * MM if closing == "button" else 21_650_635)


@pytest.mark.parametrize("key", ["chain_stitch", "concertina", "side_sewn"])
def test_covers_in_two_have_the_band_in_the_back_alone(key: str) -> None:
    made = build(key, closing="elastic")
    side = made.flat("board") or made.cover
    assert side is not None
    assert len(side.eyelets) == 2
    assert [words for *_, words in side.labels][-1] == "back only"
    half = "covers" if key == "side_sewn" else "boards"
    assert "the two holes of the band, in the back alone, near the fore edge, in the " + half in (
        says(made)
    )
    ties = build(key, closing="ties")
    both = ties.flat(side.key)
    assert both is not None
    assert [x for x, _ in both.eyelets] == [both.width_nm - 10 * MM]


@pytest.mark.parametrize("asked", ["nothing of the kind", "", "cord"])
def test_what_does_not_fit_is_refused_at_its_field(asked: str) -> None:
    made = structure_for("pamphlet", {"closing": asked})
    found = made.problems(made.defaults() | {"closing": asked})
    assert found == {"closing": "Closed with is none of those offered."}


def test_cautions_stand_on_the_page_of_the_journal() -> None:
    for closing in EVERY:
        made = structure_for("wrap_cover", {"closing": closing})
        assert set(all_closings()[closing].cautions) <= set(made.cautions)
    assert any(
        "pacemakers" in c for c in structure_for("wrap_cover", {"closing": "magnet"}).cautions
    )


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(PAIRS), st.data())
def test_whatever_is_asked_is_whole(pair: tuple[str, str], data: st.DataObject) -> None:
    key, closing = pair
    made = structure_for(key, {"closing": closing})
    dims: dict[str, Any] = {"closing": closing}
    for d in made.dimensions:
        if d.group == "Closing" and d.kind == "choice" and d.key != "closing":
            dims[d.key] = data.draw(st.sampled_from([value for value, _ in d.choices]))
        elif d.group == "Closing" and d.kind != "choice":
            unit = MM if d.kind == "length" else 1
            dims[d.key] = data.draw(st.integers(d.least // unit, d.most // unit)) * unit
        elif d.key == "flap":
            dims[d.key] = data.draw(st.sampled_from([0, 8, 30, 50, 120, 300])) * MM
    plain = build(key, **{k: v for k, v in dims.items() if k in ("flap",)}, closing="none")
    found = build(key, **dims)
    roles = {role.key for role in all_closings()[closing].roles}
    # Paper, thread and sewing are those without it; what it adds are its own roles alone.
    assert found.pieces == plain.pieces
    assert found.thread == plain.thread
    assert set(found.lengths) - set(plain.lengths) <= roles
    assert set(found.counts) - set(plain.counts) <= roles
    assert all(n >= 0 for n in (*found.lengths.values(), *found.counts.values()))
    for operation, count in plain.operations.items():
        assert found.operations[operation] >= count
    new = set(found.operations) - set(plain.operations)
    assert new <= {op.key for op in all_closings()[closing].operations}
    # Its steps come before the last, its holes while the cover lies flat.
    assert [s for s in found.steps if s in plain.steps] == list(plain.steps)
    assert found.steps[-1] == plain.steps[-1]
    # Boards that are made apart from what is sewn are punched before they are put to it.
    apart = key in ("case_bound", "concertina_sewn")
    sewn = next(
        (
            i
            for i, s in enumerate(found.steps)
            if (s.stage in ("cased", "inside") if apart else s.shows == "thread")
        ),
        len(found.steps),
    )
    punching = [
        i
        for i, s in enumerate(found.steps)
        if s not in plain.steps and "unch the" in s.text and "by the template" in s.text
    ]
    assert all(at < sewn for at in punching)
    assert bool(punching) == any(flat.eyelets for flat in found.flats)
    for step in found.steps:
        assert step.say(show)
        assert step.shows in ("", "thread", *(f.key for f in found.flats))
    # No hole lies off the cover, unless a grave warning says so.
    if not any(advice.grave for advice in found.advice):
        for flat in found.flats:
            for x, y in flat.eyelets:
                assert 0 < x < flat.width_nm
                assert 0 < y < flat.height_nm
    for flat in found.flats:
        assert flat_drawing(flat, show, "k")
    assert closed_drawing(found, show)


@pytest.mark.parametrize("closing", EVERY)
def test_templates_have_its_holes_to_a_tenth_of_a_millimetre(closing: str) -> None:
    made = build(closing=closing)
    [cover] = [t for t in templates(made) if t.key == "cover"]
    assert cover.flat.eyelets == (made.cover.eyelets if made.cover else ())
    assert template_pdf(templates(made), "A journal", show).startswith(b"%PDF")


def test_a_journal_as_first_offered_has_cord_and_beads() -> None:
    made = structure("wrap_cover")
    assert [r.key for r in made.roles][-2:] == ["cord", "beads"]
    assert made.defaults()["closing"] == "cord"


NINTH = """
from fractions import Fraction
from app.core.structures.base import Dimension, Operation, Role
from app.core.structures.closing import GROUP, Added, Closing, has_covers

CLOSING = Closing(
    key="pin", name="pin", fits=has_covers, dimensions=(Dimension("pins", "Pins", GROUP, "count", 2, 1, 9),),
    roles=(Role("pins", "Pins", "count"),), operations=(Operation("pin", "Pin", "pin", Fraction(1), Fraction(1)),),
    put_on=lambda fitting: Added(counts={"pins": fitting.chosen("pins")}, operations={"pin": 1}),
)
"""


def test_another_is_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "pin.py").write_text(NINTH, encoding="utf-8")
    monkeypatch.setattr(package, "__path__", [*package.__path__, str(tmp_path)])
    clear = (all_closings.cache_clear, whole._assembled.cache_clear, structures.cache_clear)
    for cache in clear:
        cache()
    try:
        made = build("pamphlet", closing="pin", pins=3)
        assert (made.counts["pins"], made.operations["pin"]) == (3, 1)
    finally:
        for cache in clear:
            cache()


@pytest.mark.parametrize(
    ("corners", "size", "torn"),
    # The band's holes lie 15 and 10 from the edges: clipped at 45° by more than 25 less 6 × 1.414.
    [("clipped", 16, False), ("clipped", 17, True), ("clipped", 40, True), ("rounded", 20, False),
     ("rounded", 60, True)],
)  # fmt: skip
def test_a_hole_in_a_corner_that_is_cut_away_is_told(corners: str, size: int, torn: bool) -> None:
    made = build(closing="elastic", corners=corners, corner_size=size * MM, flap=0)
    told = [a for a in made.advice if a.field == "corner_size" and a.grave]
    assert bool(told) == torn
    assert not [a for a in build(closing="none", corners=corners, corner_size=size * MM, flap=0).advice
                if a.grave]  # fmt: skip


def test_clear_of_by_hand() -> None:
    square = ((0, 0), (20 * MM, 0), (20 * MM, 20 * MM), (0, 20 * MM))
    assert clear_of(square, (6 * MM, 6 * MM))
    assert not clear_of(square, (6 * MM - 1, 10 * MM))
    assert not clear_of(square, (10 * MM, 14 * MM + 1))
    assert not clear_of(square, (25 * MM, 10 * MM))


def test_ties_off_the_front_are_told() -> None:
    told = build(closing="ties", flap=120 * MM)
    assert [a.field for a in told.advice if a.grave] == ["flap"]


def test_a_narrow_flap_has_its_tie_in_the_middle() -> None:
    # Of a flap of 12 half, of one of 30 the usual ten.
    for flap, inset in ((12, 6), (19, 9.5), (20, 10), (30, 10)):
        made = build(closing="ties", flap=flap * MM)
        assert made.cover is not None
        assert max(x for x, _ in holes(made)) == made.cover.width_nm / MM - inset


def test_the_front_has_room_to_six_from_its_spine() -> None:
    # 45.8 − 10 + 84.2 are 120 of 126.
    assert build(closing="button", button_apart=84_200_000).advice == ()
    assert build(closing="button", button_apart=84_200_001).advice != ()


def test_what_is_knotted_inside_comes_before_what_is_pasted_over_it() -> None:
    made = build("concertina", closing="ties")
    steps = [s.say(show) for s in made.steps]
    knotted = next(i for i, s in enumerate(steps) if "draw every one through its hole" in s)
    glued = next(i for i, s in enumerate(made.steps) if s.stage == "cased")
    assert knotted < glued < len(steps) - 1
    # Under a panel a knot would leave a lump; a soft cover has room for it.
    assert "glue 30 mm of it down flat in a shallow groove" in steps[knotted]
    assert "knot it there, 30 mm for the knot." in says(build("pamphlet", closing="ties"))
    assert "glue them down flat inside, in shallow grooves, 20 mm each" in says(
        build("case_bound", closing="elastic")
    )
    strap = says(build("case_bound", closing="strap"))
    assert "Lay the block dry in its case and close it. Lay it round the closed" in strap
    assert "Lay the block dry" not in says(build("chain_stitch", closing="strap"))
    # Beads are strung after the last press all the same.
    cord = build(closing="cord", insert1_count=1, insert1_per="journal", insert1_how="paste",
                 insert1_width=90 * MM, insert1_height=130 * MM, insert1_grain="free")  # fmt: skip
    said = says(cord)
    assert said.index("Paste the paste-down") < said.index("of cord, double it")
    elastic = build(closing="elastic", insert1_count=1, insert1_per="journal", insert1_how="paste",
                    insert1_width=90 * MM, insert1_height=130 * MM, insert1_grain="free")  # fmt: skip
    said = says(elastic)
    assert said.index("draw its ends in") < said.index("Paste the paste-down")


@pytest.mark.parametrize(
    ("closing", "dims", "work", "lines", "dots"),
    [
        # On a front of 126 by 170, from the head of the spine. The flap's button lies 35.8 from the
        # fore edge, the other 30 further; a string between them.
        ("button", {}, {"punch": 2, "fit_button": 2}, [(60.2, 85, 90.2, 85)],
         [(60.2, 85), (90.2, 85)]),
        # Turns a fiftieth of the height to both sides of the middle: 3.4; of three one in it.
        ("cord", {"wraps": 2}, {"punch": 1, "bead": 6, "tie": 1},
         [(0, 81.6, 126, 81.6), (0, 88.4, 126, 88.4)], []),
        ("cord", {"wraps": 3, "beads_each_end": 0}, {"punch": 1, "tie": 1},
         [(0, 78.2, 126, 78.2), (0, 85, 126, 85), (0, 91.8, 126, 91.8)], []),
        ("cord", {"wraps": 0}, {}, [], []),
        # Fifteen from the fore edge, or across the middle.
        ("elastic", {}, {"punch": 2, "fit_elastic": 1}, [(111, 0, 111, 170)], []),
        ("elastic", {"elastic_way": "round"}, {"punch": 2, "fit_elastic": 1},
         [(0, 85, 126, 85)], []),
        # 45.8 less half of ten and six from the fore edge.
        ("magnet", {}, {"fit_magnet": 2}, [], [(91.2, 85)]),
        ("magnet", {"magnet_pairs": 2}, {"fit_magnet": 4}, [],
         [(91.2, 56.667), (91.2, 113.333)]),
        ("strap", {}, {"punch": 5, "fit_strap": 1}, [(0, 85, 126, 85)], [(84, 85)]),
        # An eighth of the front long, from 55.8 from the fore edge, at a third and two thirds.
        ("ties", {"tie_pairs": 2}, {"punch": 4, "fit_tie": 4},
         [(54.45, 56.667, 70.2, 56.667), (54.45, 113.333, 70.2, 113.333)], []),
        ("toggle", {}, {"punch": 2, "fit_toggle": 1}, [(68.549, 85, 90.2, 85)], [(68.549, 85)]),
        ("none", {}, {}, [], []),
    ],
)  # fmt: skip
def test_work_and_drawing_by_hand(
    closing: str, dims: dict[str, Any], work: dict[str, int], lines: list[Any], dots: list[Any]
) -> None:
    plain, made = build(closing="none"), build(closing=closing, **dims)
    more = {k: n - plain.operations.get(k, 0) for k, n in made.operations.items()}
    assert {k: n for k, n in more.items() if n} == work

    def in_mm(rows: Any) -> list[tuple[float, ...]]:
        return [tuple(round(nm / MM, 3) for nm in row) for row in rows]

    assert in_mm(made.closing_lines) == lines
    assert in_mm(made.closing_dots) == dots


@pytest.mark.parametrize(
    ("closing", "lengths", "counts", "work"),
    [
        ("button", {"string": 3 * (60 * MM + 47_142_858) + 80 * MM}, {"buttons": 2},
         {"fit_button": 2}),
        ("toggle", {"loop": 170 * MM}, {"toggle": 1}, {"fit_toggle": 1}),
        ("magnet", {}, {"magnets": 2}, {"fit_magnet": 2}),
    ],
)  # fmt: skip
def test_without_a_flap_it_takes_as_much_and_has_no_place(
    closing: str, lengths: dict[str, int], counts: dict[str, int], work: dict[str, int]
) -> None:
    plain, made = build(closing="none", flap=0), build(closing=closing, flap=0)
    assert {k: n for k, n in made.lengths.items() if k not in plain.lengths} == lengths
    assert {k: n for k, n in made.counts.items() if k not in plain.counts} == counts
    more = {k: n - plain.operations.get(k, 0) for k, n in made.operations.items()}
    assert {k: n for k, n in more.items() if n} == work
    assert (made.closing_lines, made.closing_dots) == ((), ())
    assert [s for s in made.steps if s not in plain.steps] == []


@pytest.mark.parametrize(
    ("key", "closing", "places", "label"),
    [
        # A board of 123 by 166 by its first measures, its holes 8 from the spine.
        ("chain_stitch", "elastic", [(108, 10), (108, 156)], (108, 19)),
        ("chain_stitch", "elastic round", [(23, 79), (23, 87)], (23, 88)),
        ("chain_stitch", "strap", [(49.5, 83), (73.5, 83)], (49.5, 92)),
        ("chain_stitch", "ties", [(113, 83)], None),
        # Leaf and cover of 120 by 160, sewn 12 from the spine.
        ("side_sewn", "elastic round", [(27, 76), (27, 84)], (27, 85)),
        ("side_sewn", "strap", [(48, 80), (72, 80)], (48, 89)),
    ],
)
def test_places_in_boards_and_covers_of_their_own(
    key: str, closing: str, places: list[tuple[float, float]], label: tuple[float, float] | None
) -> None:
    closing, _, way = closing.partition(" ")
    made = build(key, closing=closing, **({"elastic_way": way} if way else {}))
    side = made.flat("board") or made.cover
    assert side is not None
    assert [(x / MM, y / MM) for x, y in side.eyelets] == places
    said = [(x / MM, y / MM) for x, y, words in side.labels if words == "back only"]
    assert said == ([label] if label else [])
    assert [words for *_, words in side.labels] == (["back only"] if label else [])


def test_one_of_a_thing_and_three_are_said_and_counted() -> None:
    three = build(closing="ties", tie_pairs=3)
    assert three.lengths["ties"] == 6 * 250 * MM
    assert "Cut 6 ties, 250 mm each" in says(three)
    assert three.operations["fit_tie"] == 6
    one = build(closing="strap", strap_holes=1)
    assert "Punch 1 hole in its other end, the first 60 mm from the tip." in says(one)
    assert "done up in hole 1 from the tip" in says(one)
    wound = build(closing="button", button_winds=1)
    assert "wind the string round both buttons 1 time, crosswise" in says(wound)
    assert wound.lengths["string"] == 60 * MM + 47_142_858 + 80 * MM


@pytest.mark.parametrize(("structure_key", "closing"), PAIRS)
def test_whoever_gets_it_is_told_what_can_hurt_a_child(structure_key: str, closing: str) -> None:
    """An elastic band has no small part and no loose end; all others do (common practice)."""
    flap = {"flap": 60 * MM} if structure_key == "long_stitch" else {}
    said = for_customers(build(structure_key, closing=closing, **flap))
    assert len(said) == (closing != "elastic")
    for text in said:
        assert "children" in text
        assert LAWS not in text
        assert "{" not in text
