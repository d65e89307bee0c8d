"""Bounds, orders and words that no other test of structures holds fast."""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby, pairwise
from typing import Any

import pytest

from app.core.length import MM, show_length
from app.core.structures import structure_for
from app.core.structures.base import Build, PaperFacts
from app.core.structures.closings import all_closings
from app.core.structures.insert_kinds import insert_dimensions, inserts_in
from app.core.structures.side_patterns import SideSewing, side_pattern
from app.core.structures.wire_bound import PUNCHED


def build(key: str, *, leaves: int = 150_000, **dims: Any) -> Build:
    made = structure_for(key, dims)
    papers = {r.key: PaperFacts(r.key, 300_000, Fraction(100)) for r in made.roles}
    papers["leaves"] = PaperFacts("leaves", leaves, Fraction(100))
    return made.build(made.checked(made.defaults() | dims), papers)


def show(nm: int) -> str:
    return show_length(nm, "mm")


def says(made: Build) -> str:
    return " ".join(s.say(show) for s in made.steps)


CLOSINGS: dict[str, dict[str, tuple[int, int, int]]] = {
    "button": {"button_apart": (30, 10, 200), "button_across": (15, 4, 60),
               "button_winds": (3, 1, 12), "string_tail": (60, 0, 500), "string_knot": (20, 0, 200)},
    "cord": {"wraps": (2, 0, 12), "cord_tail": (0, 0, 1000), "hitch": (40, 0, 500),
             "beads_each_end": (3, 0, 40)},
    "elastic": {"elastic_stretch": (12, 0, 100), "elastic_knot": (20, 0, 200)},
    "magnet": {"magnet_pairs": (1, 1, 6), "magnet_across": (10, 2, 40)},
    "strap": {"strap_overlap": (60, 10, 500), "strap_turned": (30, 10, 200),
              "strap_holes": (3, 1, 12), "strap_pitch": (12, 6, 60)},
    "ties": {"tie_pairs": (1, 1, 4), "tie_length": (220, 20, 1000), "tie_knot": (30, 0, 200)},
    "toggle": {"toggle_length": (25, 5, 120), "loop_ends": (30, 5, 200)},
}  # fmt: skip
"""First offered, least and most; lengths in millimetres."""


@pytest.mark.parametrize("key", sorted(all_closings()))
def test_what_a_closing_offers_first_and_its_bounds(key: str) -> None:
    found = {
        d.key: tuple(
            v // (MM if d.kind == "length" else 1) for v in (int(d.default), d.least, d.most)
        )
        for d in all_closings()[key].dimensions
        if d.kind != "choice"
    }
    assert found == CLOSINGS[key]


def test_what_an_insert_offers_first_and_its_bounds() -> None:
    found = {d.key: (d.default, d.least, d.most) for d in insert_dimensions(2, several=True)}
    assert found["insert2_width"] == (90 * MM, 20 * MM, 1000 * MM)
    assert found["insert2_height"] == (130 * MM, 20 * MM, 1000 * MM)
    assert found["insert2_count"] == (1, 0, 40)
    assert inserts_in(["insert1_count", "insert6_count"]) == (1, 6)
    assert inserts_in(["insert0_count", "insert7_count"]) == ()


@pytest.mark.parametrize(
    ("pattern", "order"),
    [
        ("noble", "L2 L3 L4 e2 L4 L3 L2 L1 e1 L1 L2"),
        ("tortoise", "L2 e4 L2 e3 L2 L3 e6 L3 e5 L3 L4 e8 L4 e7 L4 L3 L2 L1 e2 L1 e1 L1 L2"),
    ],
)
def test_extra_holes_are_sewn_where_the_thread_comes_past(pattern: str, order: str) -> None:
    """Those of a hole before it goes on, the one towards the tail first, then towards the tail."""
    path = SideSewing(side_pattern(pattern, (15, 55, 95, 135), 150, 12, 15), 150, 6, 10).path
    names = [f"{'Le'[s.row]}{s.station + 1}" for s in path.points]
    assert " ".join(name for name, _ in groupby(names)) == order


def test_lengths_that_are_cut_are_those_that_are_reckoned() -> None:
    elastic = build("wrap_cover", closing="elastic")
    assert f"Cut {show(elastic.lengths['elastic'])} of elastic" in says(elastic)
    case = build("case_bound")
    [tape] = {case.lengths["tape"] // 3}
    assert f"Cut 3 tapes, {show(tape)} each" in says(case)
    corner = next(f for f in case.flats if f.key == "covering").outline
    assert corner[0][0] == corner[-1][1] == 22_500_000
    assert "cut off its corners, 22.5 mm from each along both edges" in says(case)
    assert "Knot the thread at the last kettle" in says(build("case_bound", signatures=3))
    assert "Trim both tails of that knot." in says(build("case_bound", signatures=2))


def test_one_and_several_are_said() -> None:
    assert "glue 2 magnets in so" in says(build("wrap_cover", closing="magnet"))
    assert "glue 4 magnets in so" in says(build("wrap_cover", closing="magnet", magnet_pairs=2))
    assert "Punch 1 hole in its other end, the first" in says(
        build("wrap_cover", closing="strap", strap_holes=1)
    )
    assert "Punch 2 holes in its other end, 12 mm apart, the first" in says(
        build("wrap_cover", closing="strap", strap_holes=2)
    )
    assert "Sew the signature through its row, in the order" in says(
        build("wrap_cover", signatures=1)
    )
    assert "Sew each signature through its own row, in the" in says(
        build("wrap_cover", signatures=2)
    )


def test_what_does_not_say_how_thick_its_fore_edge_is_is_as_thick_all_over() -> None:
    for key in ("side_sewn", "concertina", "wire_bound"):
        made = build(key)
        assert made.edge_nm == made.thickness_nm


def test_holes_of_rings_and_files() -> None:
    assert [PUNCHED[k].across_nm for k in ("wire3", "wire2", "rings2", "rings3", "file2", "file4")] == [
        4 * MM, 5 * MM, 6 * MM, 7 * MM, 6 * MM, 6 * MM,
    ]  # fmt: skip
    for key in ("rings2", "file2", "file4"):
        places = PUNCHED[key].places(300 * MM)
        assert {b - a for a, b in pairwise(places)} == {80 * MM}


def test_tabs_where_a_strip_is_joined_once() -> None:
    assert build("concertina", panels=4, panels_each=4, tab=0).advice == ()
    assert [a.field for a in build("concertina", panels=8, panels_each=4, tab=5 * MM).advice] == [
        "tab"
    ]


def test_mends_of_strips_in_full() -> None:
    [low] = build("concertina", pocket=10 * MM).advice
    assert low.say(show).endswith("give it 40 mm or more, or 0.")
    [creeping] = build("concertina_sewn", leaves=600_000, strip_past=0, folios=3).advice[-1:]
    # Two folios of 0.6 lie outside the innermost: 1.2, so 2 and one more.
    assert "creeps 1.2 mm" in creeping.say(show)
    assert creeping.say(show).endswith("Let them stand 3 mm past it.")
    keys = [flat.key for flat in build("concertina_sewn").flats]
    assert keys == ["board", "covering", "strip", "last", "folio"]


def test_kettles_close_to_the_tapes_at_just_the_least() -> None:
    # At the least gap it is the tapes that are too many.
    made = build("case_bound", kettle_gap=4 * MM, tapes=8, tape_width=14 * MM, leaf_height=150 * MM)
    assert [a.field for a in made.advice if a.grave] == ["tapes"]


def test_paste_of_a_covered_concertina_by_hand() -> None:
    made = build("concertina")
    # Two coverings of 156 by 196, two panels, two tabs of 12 by 160; a tenth of a milligram a mm².
    assert made.amounts["paste"] == (2 * 156 * 196 + 2 * 120 * 160 + 2 * 12 * 160) // 10
    # Two coverings, two panels, two joins.
    assert made.operations["glue"] == 6


def test_a_case_says_how_high_its_board_is_and_how_wide_its_joint_must_be() -> None:
    low = build("case_bound", square=-3 * MM)
    assert any("The board is 154 mm high and the leaf 160 mm:" in a.say(show) for a in low.advice)

    def binds(joint: int) -> bool:
        made = structure_for("case_bound", {})
        papers = {r.key: PaperFacts(r.key, 3 * MM, Fraction(100)) for r in made.roles}
        papers["leaves"] = PaperFacts("leaves", 150_000, Fraction(100))
        found = made.build(made.checked(made.defaults() | {"joint": joint, "board_in": 0}), papers)
        return any("binds on boards 3 mm thick" in a.say(show) for a in found.advice)

    assert not binds(6 * MM)
    assert binds(6 * MM - 1)


def test_a_block_of_just_eight_may_be_rounded() -> None:
    # Forty leaves of 0.17 and four of the endpapers of 0.3.
    dims = {"signatures": 4, "folios": 5, "swell": 0, "back": "rounded"}
    assert not any(a.field == "back" for a in build("case_bound", leaves=170_000, **dims).advice)
    assert any(a.field == "back" for a in build("case_bound", leaves=169_999, **dims).advice)


def test_the_tie_of_the_second_signature_lies_at_its_end() -> None:
    [path] = build("case_bound", signatures=4).thread
    [tie] = [p for p in path.points if p.over == "tie"]
    assert (tie.row, tie.station, tie.inside) == (1, 0, False)
    assert [(p.row, p.station) for p in path.points if p.over == "kettle"] == [(1, 7), (2, 0)]


def test_shared_rows_on_a_narrow_spine_and_a_thick_block() -> None:
    thin = build("pamphlet_rows", rows="2", folios=1)
    assert thin.cover is not None
    # Rows two holes apart, and a hole's width past either.
    assert thin.cover.panels[1].width_nm == 6 * MM
    thick = build("pamphlet_rows", folios=20)
    # Eighty leaves of 0.15 and the cover on either side.
    assert thick.thickness_nm == 12 * MM + 2 * 300_000
    inside, outside = (
        build("pamphlet_rows", knot=knot).thread[0] for knot in ("inside", "outside")
    )
    assert inside.points[0].inside
    assert not outside.points[0].inside


def test_mends_of_inserts_in_full() -> None:
    def insert(how: str, width: int) -> dict[str, Any]:
        return {"insert1_count": 1, "insert1_how": how, "insert1_width": width * MM,
                "insert1_height": 140 * MM, "insert1_grain": "height"}  # fmt: skip

    [wide] = build("pamphlet", **insert("pocket", 150)).advice
    assert wide.say(show).endswith(
        "is 126 mm wide between its flaps; the leaf is 120 mm. Cut it between 48 mm and 144 mm wide."
    )
    [tip] = build("side_sewn", **insert("tip", 110)).advice
    assert tip.say(show).endswith(
        "16 mm from the spine, and does not open. Cut it 104 mm wide or less."
    )
    pocket = says(build("pamphlet", **insert("pocket", 100)))
    assert "it is 76 mm wide and 70 mm high. Once dry" in pocket


def test_a_caution_about_awls_stands_before_the_first_hole_and_once() -> None:
    awl = "Punch with an awl away from the hand"
    for key in ("concertina", "side_sewn", "wire_bound"):
        text = says(build(key, closing="ties"))
        assert text.index(awl) < text.index("unch the holes of the closing")
    # Where it was said before the boards or the cover, it is not said again for the closing.
    for key in ("chain_stitch", "pamphlet", "case_bound", "wrap_cover"):
        plain, closed = build(key, closing="none"), build(key, closing="ties")
        assert says(closed).count(awl) == says(plain).count(awl)
    # What is put on without a hole brings no awl.
    assert says(build("wrap_cover", closing="magnet")).count(awl) == says(
        build("wrap_cover", closing="none")
    ).count(awl)
    assert awl not in says(build("concertina", closing="none"))
