"""Boards, notebooks sewn through the side, concertinas, cards and lists of parts, worked out by hand.

As in ``test_structures_by_hand``: the arithmetic stands beside each figure.
"""

from __future__ import annotations

from typing import Any

import pytest

from app.core.errors import DomainError
from app.core.length import MM
from app.core.structures import structure
from app.core.structures.boards import board_flat
from tests.core.by_hand import build, corners, flat, folds, holes, leaves, nm, panels, size, steps

# --- boards


def test_boards_between_which_a_journal_is_chained_are_worked_out_by_hand() -> None:
    made = build("chain_stitch", leaf_height=200, leaf_width=140, signatures=5, stations="5")
    # Square 3 mm above, below and at the fore edge; 15 mm turned in on all sides; a lining keeps
    # 3 mm from the edges (common practice, no source).
    assert size(made, "board") == (143, 206, 2)
    assert size(made, "covering") == (173, 236, 2)
    assert size(made, "lining") == (137, 200, 2)
    assert size(made, "folio") == (280, 200, 20)
    assert holes(made, "board") == [(8, 23 + 40 * i, 0, i) for i in range(5)]
    # Corners are cut off one and a half turn-ins along each side.
    assert corners(made, "covering") == [
        (22.5, 0), (150.5, 0), (173, 22.5), (173, 213.5), (150.5, 236), (22.5, 236), (0, 213.5),
        (0, 22.5),
    ]  # fmt: skip
    assert sorted(folds(made, "covering")) == [
        (15, 15, 15, 221), (15, 15, 158, 15), (15, 221, 158, 221), (158, 15, 158, 221),
    ]  # fmt: skip
    assert flat(made, "covering").scores == ()
    # 2 × (173 × 236 + 137 × 200) = 136 456 mm² at 0.1 mg (common practice, no source).
    assert made.amounts == {"paste": 13_645}
    # 40 leaves × 0.12, boards 2 × 2, and on each board a covering outside and a lining inside.
    assert made.thickness_nm == nm("9.32")
    assert (made.closed_width_nm, made.closed_height_nm) == (nm(143), nm(206))
    # 20 folios, 2 boards, 2 coverings, 2 linings; 25 holes in folds, 10 in boards.
    assert made.operations == {
        "cut": 26, "fold": 20, "punch": 35, "glue": 4, "sew": 25, "finish": 1,
    }  # fmt: skip
    assert (made.leaves, made.creep_nm) == (40, nm("0.36"))
    # Out and in at every station but where a signature is climbed from or to: 9 + 8 + 8 + 8 + 9
    # passes of 0.48. Four links in each of four signatures, down and up 0.96, and four climbs. Ten
    # boards' holes: 8 out and 8 back, through 2 mm twice. 800 + 20.16 + 30.72 + 3.84 + 200 + 200.
    assert made.lengths == {"thread": nm("1254.72")}
    assert made.thread[0].passes == 42 + 10
    assert "8 mm from its spine edge, the outer ones 23 mm" in steps(made)
    assert "22.5 mm from each along both edges" in steps(made)


def test_bare_boards_take_no_paper_no_paste_and_no_press() -> None:
    made = build("chain_stitch", turn_in=0)
    # 6 signatures of 8 leaves × 0.12 and two boards.
    assert made.thickness_nm == nm("9.76")
    assert made.amounts == {"paste": 0}
    assert (made.operations["cut"], made.operations["glue"]) == (24 + 2, 0)
    assert made.advice == ()


def test_the_whole_way_of_two_chained_signatures_is_as_sewn() -> None:
    made = build("chain_stitch", leaves(0.1), leaf_height=100, signatures=2, folios=1,
                 stations="3")  # fmt: skip
    # x from the first signature, y from the head, z from outside in, in tenths of millimetres: a
    # signature is 2 thick and a fold 1; board holes lie 80 from the spine, boards are 20 thick.
    front = [(-80, -20), (-80, 0), (0, 0)]
    back = [(82, -20), (82, 0), (2, 0)]
    way: list[tuple[int, int, int]] = []
    for y in (200, 500, 800):
        way += [(x, y, z) for x, z in [(0, 1), (0, 0), *front, (0, 1)]]
    way.pop()  # climbs outside from the last station
    way += [(x, 800, z) for x, z in [(2, 0), *back, (2, 1)]]
    for y in (500, 200):
        way += [(x, y, z) for x, z in [(2, 1), (2, 0), (0, 0), (2, 0), *back, (2, 1)]]
    [path] = made.thread
    assert path.places == tuple((x * 100_000, y * 100_000, z * 100_000) for x, y, z in way)
    assert path.row_names == ("front board", "signature 1", "signature 2", "back board")
    rows = [1, 1, 0, 0, 1, 1] * 3
    assert [p.row for p in path.points] == [
        *rows[:-1],
        2,
        3,
        3,
        2,
        2,
        *[2, 2, 1, 2, 3, 3, 2, 2] * 2,
    ]
    over = ["", "", "board", "board", "", ""] * 3
    assert [p.over for p in path.points] == [
        *over[:-1], "", "board", "board", "", "",
        *["", "", "link", "", "board", "board", "", ""] * 2,
    ]  # fmt: skip
    assert path.stations_nm == (nm(20), nm(50), nm(80))


def test_boards_may_be_twenty_millimetres_and_no_smaller() -> None:
    n = {"leaf_width": 40 * MM, "leaf_height": 60 * MM, "foreedge_square": -20 * MM,
         "square": -20 * MM}  # fmt: skip
    least = board_flat(n)
    assert (least.width_nm, least.height_nm, least.count) == (20 * MM, 20 * MM, 2)
    for key in ("foreedge_square", "square"):
        with pytest.raises(DomainError, match="hardly any board") as caught:
            board_flat(n | {key: -20 * MM - 1})
        assert caught.value.field == key
    # Without a spine the square is on both sides: 40 − 2 × 10.
    assert board_flat(n | {"foreedge_square": -10 * MM}, spine=False).width_nm == 20 * MM


def test_holes_of_a_board_may_lie_at_its_middle_and_not_past_it() -> None:
    narrow: dict[str, Any] = {"leaf_width": 37, "turn_in": 0}  # a board of 40
    assert holes(build("chain_stitch", board_margin=20, **narrow), "board")[0][0] == 20
    with pytest.raises(DomainError, match="past the middle") as caught:
        build("chain_stitch", board_margin="20.000001", **narrow)
    assert caught.value.field == "board_margin"


# --- through the side


def test_a_side_sewn_notebook_of_forty_leaves_is_worked_out_by_hand() -> None:
    made = build("side_sewn", leaf_height=150, leaf_width=110)
    assert size(made, "leaf") == (110, 150, 40)
    assert size(made, "cover") == (110, 150, 2)
    assert panels(made) == [("spine", 0, 16), ("cover", 16, 94)]  # 12 of margin, 4 of hinge
    assert folds(made, "cover") == [(16, 0, 16, 150)]
    assert (folds(made, "leaf"), panels(made, "leaf")) == ([], [])
    # 150 − 2 × 15 leave three stretches of 40.
    for key in ("leaf", "cover"):
        assert holes(made, key) == [(12, y, 0, i) for i, y in enumerate((15, 55, 95, 135))]
    assert (flat(made, "leaf").stock, flat(made, "cover").stock) == ("leaf", "card")
    assert flat(made, "cover").name == "One cover of two, spine at the left"
    # 40 × 0.12 and two covers of 0.3.
    assert made.thickness_nm == nm("5.4")
    assert (made.closed_width_nm, made.closed_height_nm) == (nm(110), nm(150))
    # Four holes, each sewn going and coming.
    assert made.operations == {"cut": 42, "score": 2, "punch": 4, "sew": 8, "finish": 1}
    assert (made.leaves, made.pages, made.made_of) == (40, 80, "40 single leaves")
    assert "Score both covers 16 mm from the spine" in steps(made)
    # 2 × 120 along; round the spine 4 × (24 + 5.4), round head and tail 2 × (30 + 5.4); twelve
    # times through 5.4; two tails of 60: 240 + 117.6 + 70.8 + 64.8 + 120.
    assert made.lengths == {"thread": nm("613.2")}


def test_the_whole_way_of_the_four_hole_stitch_is_as_sewn() -> None:
    [path] = build("side_sewn", leaf_height=150, leaf_width=110).thread
    # In millimetres from the spine and the head; F is the front, B the back, M between the leaves.
    way = """
        12 55 M | 12 55 F | 0 55 F, 0 55 B, 12 55 B, 12 55 F | 12 95 F, 12 95 B
        | 0 95 B, 0 95 F, 12 95 F, 12 95 B | 12 135 B, 12 135 F
        | 0 135 F, 0 135 B, 12 135 B, 12 135 F | 12 150 F, 12 150 B, 12 135 B, 12 135 F
        | 12 95 F, 12 95 B | 12 55 B, 12 55 F | 12 15 F, 12 15 B
        | 0 15 B, 0 15 F, 12 15 F, 12 15 B | 12 0 B, 12 0 F, 12 15 F, 12 15 B
        | 12 55 B, 12 55 M"""
    depth = {"F": 0, "M": nm("2.7"), "B": nm("5.4")}
    told = [point.split() for point in way.replace("|", ",").split(",")]
    assert path.places == tuple((nm(x), nm(y), depth[z]) for x, y, z in told)
    assert [p.inside for p in path.points] == [z != "F" for _, _, z in told]
    edges = {("0", y): "spine" for y in ("15", "55", "95", "135")}
    edges |= {("12", "0"): "head", ("12", "150"): "tail"}
    assert [p.over for p in path.points] == [
        "leaves" if z == "M" else edges.get((x, y), "") for x, y, z in told
    ]
    assert (path.sides, path.stations_nm) == (
        ("front", "back"), (nm(15), nm(55), nm(95), nm(135)),
    )  # fmt: skip
    assert {p.row for p in path.points} == {0}
    assert (path.points[0].station, path.points[-1].station) == (1, 1)


def test_the_sewn_margin_may_take_all_but_a_nanometre_of_the_leaf() -> None:
    made = build("side_sewn", leaf_width=60, margin="55.999999")
    assert flat(made, "cover").panels[1].width_nm == 1
    with pytest.raises(DomainError, match="whole leaf") as caught:
        build("side_sewn", leaf_width=60, margin=56)
    assert caught.value.field == "margin"


# --- concertina


def test_a_concertina_of_ten_panels_from_lengths_of_four_is_worked_out_by_hand() -> None:
    made = build("concertina", leaf_height=150, leaf_width=100, panels=10)
    # Four panels and a tab of 12, twice, and the last two panels.
    assert size(made, "strip") == (412, 150, 2)
    assert size(made, "last") == (200, 150, 1)
    assert panels(made, "strip") == [
        ("1", 0, 100), ("2", 100, 100), ("3", 200, 100), ("4", 300, 100), ("tab", 400, 12),
    ]  # fmt: skip
    assert [x / MM for x in flat(made, "strip").scores] == [100, 200, 300, 400]
    assert panels(made, "last") == [("1", 0, 100), ("2", 100, 100)]
    # The board stands out by 3 on all four sides.
    assert size(made, "board") == (106, 156, 2)
    assert size(made, "covering") == (136, 186, 2)
    assert [f.key for f in made.flats] == ["board", "covering", "strip", "last"]
    # 2 × 136 × 186 of covering, two panels of 100 × 150, two tabs of 12 × 150: 84 192 mm².
    assert made.amounts == {"paste": 8419}
    # Ten panels and two tabs of 0.12, two boards, their paper outside and what is turned in.
    assert made.thickness_nm == nm("5.96")
    assert (made.closed_width_nm, made.closed_height_nm) == (nm(106), nm(156))
    # Three lengths, two boards, two coverings; coverings, ends and joins glued.
    assert made.operations == {"cut": 7, "concertina_fold": 9, "glue": 6, "finish": 1}
    assert (made.leaves, made.made_of) == (10, "10 panels from 3 lengths")
    assert (made.creep_nm, made.flap_nm, made.closing_lines, made.thread) == (0, 0, (), ())
    words = steps(made)
    assert "Cut 2 lengths 412 mm wide and 150 mm high" in words
    assert "Cut one more, the last, 200 mm wide" in words
    assert "2 panels and no tab" in words
    assert "They are the same face of the strip" in words
    assert "Cut 1 length 412 mm wide" in steps(build("concertina", leaf_width=100, panels=8))


@pytest.mark.parametrize(
    ("panels", "each", "same", "other"),
    [
        # Four folds or panels on, the next length goes the same way; three on, the other way.
        (8, 4, True, False), (12, 4, True, False), (6, 3, False, True), (9, 3, False, True),
        # One length is begun as it comes.
        (4, 4, False, False), (3, 3, False, False),
    ],
)  # fmt: skip
def test_lengths_of_a_concertina_are_begun_so_that_the_folds_alternate(
    panels: int, each: int, same: bool, other: bool
) -> None:
    words = steps(build("concertina", panels=panels, panels_each=each))
    assert ("the good side up, in every length." in words) == same
    assert ("begin every second length with a mountain" in words) == other
    assert ("They are the same face of the strip" in words) == (panels in (4, 6, 8, 12))


@pytest.mark.parametrize("each", [4, 9])
def test_a_concertina_of_one_length_and_bare_boards_has_neither_tab_nor_covering(each: int) -> None:
    made = build(
        "concertina", leaf_height=150, leaf_width=100, panels=4, panels_each=each, turn_in=0
    )
    assert [f.key for f in made.flats] == ["board", "strip"]
    assert size(made, "strip") == (400, 150, 1)
    assert [name for name, _, _ in panels(made, "strip")] == ["1", "2", "3", "4"]
    # Two panels of 100 × 150 are glued to the boards; four panels and two boards.
    assert made.amounts == {"paste": 3000}
    assert made.thickness_nm == nm("4.48")
    assert made.operations == {"cut": 3, "concertina_fold": 3, "glue": 2, "finish": 1}
    assert made.made_of == "4 panels from 1 length"
    assert "Glue each tab" not in steps(made)
    assert "Cut one more" not in steps(made)


# --- card, parts


def test_a_card_of_a6_and_its_envelope_are_worked_out_by_hand() -> None:
    made = build("folded_card")
    assert size(made, "card") == (210, 148, 1)
    assert panels(made, "card") == [("back", 0, 105), ("front", 105, 105)]
    assert folds(made, "card") == [(105, 0, 105, 148)]
    # With 3 mm of room the front is 111 × 154, from 20 to 131 across and 55 to 209 down. The back
    # is 154 − 55 + 15 = 114 high. Slopes are 4 mm (common practice, no source).
    assert size(made, "envelope") == (151, 323, 1)
    assert corners(made, "envelope") == [
        (24, 0), (127, 0), (131, 55), (151, 59), (151, 205), (131, 209), (127, 323), (24, 323),
        (20, 209), (0, 205), (0, 59), (20, 55),
    ]  # fmt: skip
    assert folds(made, "envelope") == [
        (20, 55, 131, 55), (20, 209, 131, 209), (20, 55, 20, 209), (131, 55, 131, 209),
    ]  # fmt: skip
    assert flat(made, "envelope").scores == ()
    assert (made.closed_width_nm, made.closed_height_nm) == (nm(111), nm(154))
    # Two sides of 20 × 114 are glued: 4560 mm². Card 2 × 0.28, envelope four layers of 0.11.
    assert made.amounts == {"paste": 456}
    assert made.thickness_nm == nm(1)
    # One fold in the card and four in the envelope, two seams.
    assert made.operations == {"cut": 2, "card_fold": 5, "glue": 2, "finish": 1}
    assert (made.leaves, made.pages) == (2, 4)
    # Each part is named in its middle: 75.5 is the middle across, 10 and 141 those of the sides.
    assert [(x / MM, y / MM, name) for x, y, name in flat(made, "envelope").labels] == [
        (75.5, 27.5, "flap"), (75.5, 132, "front"), (75.5, 266, "back"), (10, 132, "side"),
        (141, 132, "side"),
    ]  # fmt: skip
    assert "edges of the back, 5 mm clear" in steps(made)


def test_an_envelope_keeps_a_back_of_ten_millimetres_or_is_refused() -> None:
    # 154 + 15 − 159 = 10.
    assert size(build("folded_card", flap=159), "envelope") == (151, 323, 1)
    with pytest.raises(DomainError, match="hardly any back") as caught:
        build("folded_card", flap="159.000001")
    assert caught.value.field == "flap"


def test_a_parts_list_packs_and_makes_up_as_typed() -> None:
    made = build("parts_list", height=90, width=30, thickness=4, steps=5)
    assert made.operations == {"make_up": 5, "finish": 1}
    assert (made.closed_height_nm, made.closed_width_nm, made.thickness_nm) == (
        nm(90), nm(30), nm(4),
    )  # fmt: skip
    assert (made.leaves, made.pages, made.flats, made.thread) == (0, 0, (), ())
    assert "in 5 steps, check" in steps(made)
    assert "in 1 step, check" in steps(build("parts_list", steps=1))
    assert steps(build("parts_list", steps=0)).endswith("on the list. Check it and wrap it.")
    assert [r.key for r in structure("parts_list").roles] == [f"part_{i}" for i in range(1, 9)]
