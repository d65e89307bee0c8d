"""Signatures gathered from several kinds of folio: by hand, and against an enumeration.

No published tables of creep or of mixed signatures are known; the arithmetic of nested folds is
common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.errors import DomainError
from app.core.length import MM, show_length
from app.core.structures import structure_for, structures
from app.core.structures.base import Build, PaperFacts
from app.core.structures.folio_kinds import (
    MOST_KINDS,
    WHERE,
    gathers,
    key_of,
    kind_dimensions,
    kinds_in,
    role_of,
    without_kind,
)

TEXT = PaperFacts("Laid text", 150_000, Fraction(100))
WASH = PaperFacts("Wash {rough}", 400_000, Fraction(300))
CARD = PaperFacts("Card", 300_000, Fraction(250))
SEWN = sorted(key for key, made in structures().items() if gathers(made))


def kind(number: int, **chosen: Any) -> dict[str, int | str]:
    """The dimensions of a further kind of folio, as first offered but for what is said."""
    first = {d.key: d.default for d in kind_dimensions(number, several=True)}
    return first | {key_of(number, what): value for what, value in chosen.items()}


def build(key: str = "wrap_cover", *kinds: dict[str, int | str], **dims: Any) -> Build:
    typed: dict[str, Any] = dict(dims)
    for one in kinds:
        typed |= one
    made = structure_for(key, typed)
    papers = {r.key: CARD for r in made.roles if r.measure == "sheet"}
    papers |= {"leaves": TEXT} | {role_of(k): WASH for k in kinds_in(typed)}
    return made.build(made.checked(made.defaults() | typed), papers)


def says(made: Build) -> str:
    return " ".join(s.say(lambda nm: show_length(nm, "mm")) for s in made.steps)


def warns(made: Build) -> str:
    return " ".join(a.say(lambda nm: show_length(nm, "mm")) for a in made.advice)


def refused(*kinds: dict[str, int | str], **dims: Any) -> tuple[str | None, str]:
    with pytest.raises(DomainError) as caught:
        build("wrap_cover", *kinds, **dims)
    return caught.value.field, caught.value.message


def test_the_sewn_structures_gather() -> None:
    assert SEWN == ["case_bound", "chain_stitch", "concertina_sewn", "long_stitch", "pamphlet",
                    "pamphlet_rows", "wrap_cover"]  # fmt: skip
    assert "folio2_where" not in structure_for("pamphlet", kind(2)).defaults()
    # What is no sewn structure knows nothing of folios.
    assert structure_for("folded_card", kind(2)) is structures()["folded_card"]


def test_three_signatures_of_two_papers_by_hand() -> None:
    """Three signatures of three plain folios with a lower one of heavy paper in each.

    A leaf of 160 by 120, stations at 25, 80 and 135; the lower folio is 110 wide and 100 high, in
    the middle: from 30 to 130, so that only the middle station goes through it.
    """
    made = build("wrap_cover", kind(2, height=100 * MM, width=110 * MM), folios=3)
    # Nine plain folios and three of the other kind: 24 leaves.
    assert (made.leaves, made.pages, made.made_of) == (24, 48, "3 signatures of 4 folios")
    [plain], [low] = made.pieces["leaves"], made.pieces["folio2"]
    assert (plain.width_nm, plain.height_nm, plain.count) == (240 * MM, 160 * MM, 9)
    assert (low.width_nm, low.height_nm, low.count) == (220 * MM, 100 * MM, 3)
    assert (plain.name, low.name, low.grain) == ("folio", "kind 2 folio", "height")
    # A fold is 3 × 0.15 + 0.4 = 0.85 thick, a signature 1.7, the block 5.1 and two covers with a
    # flap 0.9: 6.0. Rows lie 3 apart, as near as holes may, and the spine is 9.
    assert made.thickness_nm == 9 * MM
    widths = {panel.name: panel.width_nm for panel in made.cover.panels} if made.cover else {}
    assert widths["spine"] == 9 * MM
    # The heavy one lies inside the first plain one: 0.15, 0.4, 0.15, 0.15. It is 10 narrower, and
    # the innermost plain folio stands 0.15 + 0.4 + 0.15 out.
    assert made.creep_nm == 700_000
    # Thread: 2 × 110, tails of 60, and passes of 0.45 + 0.3 of cover, of 0.85 + 0.3 in the middle.
    # The middle is passed twice, head and tail once each.
    for path in made.thread:
        assert path.length_nm == 220 * MM + 120 * MM + 2 * 750_000 + 2 * 1_150_000
    assert made.operations["cut"] == 13
    assert made.operations["fold"] == 12
    assert made.operations["punch"] == 2 * 9 + 1
    low_flat, plain_flat = made.flat("folio2"), made.folio
    assert low_flat is not None
    assert plain_flat is not None
    assert low_flat.stations_nm == (50 * MM,)
    assert plain_flat.stations_nm == (25 * MM, 80 * MM, 135 * MM)
    # Weight: 9 × 0.24 × 0.16 × 100 g, 3 × 0.22 × 0.10 × 300 g, and the cover.
    facts = {"leaves": TEXT, "folio2": WASH, "cover": replace(CARD, grammage=Fraction(0))}
    assert made.paper_weight_mg(facts) == 34_560 + 19_800
    assert "Through the folio of Wash {rough}, 100 mm high, only one station goes" in warns(made)
    assert "Make it 122 mm high to reach them all, or tip it in." in warns(made)


def test_steps_say_each_kind_and_where_it_lies() -> None:
    made = build("wrap_cover", kind(2, height=130 * MM, inside=2), kind(3, where="outer", inside=0))
    text = says(made)
    plain = (
        "Cut 12 plain folios of Laid text, 240 mm wide and 160 mm high, the grain along the height."
    )
    assert plain in text
    # Two kinds of one paper are told apart by their number.
    assert "Cut 3 folios of Wash {rough} (kind 2), 240 mm wide and 130 mm high" in text
    assert "Cut 2 folios of Wash {rough} (kind 3), 240 mm wide and 160 mm high" in text
    assert (
        "Nest signatures 1 and 3, from the outside in: 1 of Wash {rough} (kind 3), then 2 plain, "
        "then 1 of Wash {rough} (kind 2), then 2 plain." in text
    )
    assert "Nest signature 2, from the outside in: 2 plain, then 1 of Wash {rough} (kind 2)" in text
    assert (
        "Lay the folios of Wash {rough} (kind 2) with the head 15 mm below that of the others"
        in text
    )
    assert "Lay the guide of the plain folio into each fold, its head where that of" in text
    # Lengths of thread that differ by little are cut alike.
    assert "Cut 3 lengths of thread, " in text
    thick = build("wrap_cover", kind(2, where="first", count=9), folios=2)
    assert "Cut 3 lengths of thread: " in says(thick)
    assert " for signature 1; " in says(thick)
    assert " for signatures 2 and 3." in says(thick)
    assert made.made_of == "3 signatures, 17 folios in all"


@pytest.mark.parametrize(
    ("at", "head", "said"),
    [("head", 0, "with the head at that of the others"),
     ("middle", 15, "with the head 15 mm below that of the others"),
     ("tail", 30, "with the tail at that of the others")],
)  # fmt: skip
def test_a_lower_folio_sits_where_it_is_put(at: str, head: int, said: str) -> None:
    made = build("pamphlet", kind(2, height=130 * MM, at=at))
    flat = made.flat("folio2")
    assert flat is not None
    stations = [y - head * MM for y in (25 * MM, 80 * MM, 135 * MM)]
    assert list(flat.stations_nm) == [y for y in stations if 0 < y < 130 * MM]
    assert said in says(made)
    assert ("Not all go through the lower folios." in says(made)) == (len(flat.holes) < 3)
    assert "Nest them into one signature, from the outside in: 1 plain, then 1 of" in says(made)


@pytest.mark.parametrize(
    ("signatures", "where", "rows"),
    [(4, "each", [0, 1, 2, 3]), (4, "outer", [0, 3]), (4, "middle", [1, 2]), (4, "first", [0]),
     (4, "last", [3]), (1, "outer", [0]), (1, "last", [0]), (3, "middle", [1])],
)  # fmt: skip
def test_a_kind_goes_into_the_signatures_named(
    signatures: int, where: str, rows: list[int]
) -> None:
    made = build("wrap_cover", kind(2, where=where, count=2), signatures=signatures)
    assert made.pieces["folio2"][0].count == 2 * len(rows)
    thick = [max(y for *_, y in path.places) for path in made.thread]
    assert [row for row, nm in enumerate(thick) if nm == max(thick)] == rows


def test_instead_of_the_plain_folios() -> None:
    made = build("long_stitch", kind(2, where="middle", beside="instead", count=3, inside=0))
    assert made.pieces["leaves"][0].count == 2 * 4
    assert made.pieces["folio2"][0].count == 2 * 3
    assert "Nest signatures 1 and 4, from the outside in: 4 plain." in says(made)
    assert "Nest signatures 2 and 3, from the outside in: 3 of Wash {rough}." in says(made)


def test_what_cannot_be_gathered_is_refused_at_its_field() -> None:
    assert refused(kind(2, width=121 * MM)) == (
        "folio2_width", "A folio can be no wider than the leaf, 120 mm.",
    )  # fmt: skip
    assert refused(kind(2, height=161 * MM)) == (
        "folio2_height", "A folio can be no higher than the leaf, 160 mm.",
    )  # fmt: skip
    assert refused(kind(3, where="middle"), signatures=2) == (
        "folio3_where", "Of 2 signatures none lies between.",
    )  # fmt: skip
    assert refused(kind(2, inside=5)) == ("folio2_inside", "There are only 4 plain to lie inside.")
    assert refused(kind(2, inside=2), folios=1)[1] == "There is only 1 plain to lie inside."
    assert refused(kind(2, beside="instead"))[0] == "folio2_beside"
    both = (kind(2, where="outer", beside="instead"), kind(3, where="middle", beside="instead"))
    assert refused(*both)[0] in ("folio2_beside", "folio3_beside")
    # What is left out may say anything.
    assert build("wrap_cover", kind(2, count=0, width=500 * MM)).pieces.keys() == {
        "leaves", "cover"
    }  # fmt: skip


def test_an_edge_of_the_bounds_is_no_trouble() -> None:
    made = build("wrap_cover", kind(2, width=120 * MM, height=160 * MM, inside=4))
    assert made.advice == ()
    assert made.pieces["folio2"][0].width_nm == 240 * MM


def test_folds_too_thick_and_grain_either_way_are_told() -> None:
    made = build("wrap_cover", kind(2, count=5, where="last", grain="free"))
    # 4 × 0.15 + 5 × 0.4 = 2.6 mm.
    assert "The 9 folios of signature 3 make a fold 2.6 mm thick" in warns(made)
    assert "Take fewer, up to 2.5 mm in all and more signatures." in warns(made)
    assert "The grain of the folios of Wash {rough} may run either way" in warns(made)
    assert {a.field for a in made.advice} >= {"folios", "folio2_grain"}
    pamphlet = build("pamphlet", kind(2, count=5), folios=4)
    assert "The 9 folios make a fold 2.6 mm thick" in warns(pamphlet)


def test_stations_that_miss_or_tear_a_lower_folio_are_told() -> None:
    # Five stations at 25, 52.5, 80, 107.5 and 135; 100 high in the middle reaches from 30 to 130.
    made = build("wrap_cover", kind(2, height=100 * MM), stations="5")
    assert "2 of 5 stations miss the folio of Wash {rough}, 100 mm high: 3 hold it." in warns(made)
    assert "Make it 122 mm high to reach them all." in warns(made)
    # 120 high: from 20 to 140, the outer stations 5 mm from its ends.
    near = build("wrap_cover", kind(2, height=120 * MM), stations="5")
    assert "A station lies 5 mm from the end of the folio of Wash {rough}" in warns(near)
    assert "Make it 122 mm high, or low enough for the station to miss it." in warns(near)
    assert build("wrap_cover", kind(2, height=122 * MM), stations="5").advice == ()


@pytest.mark.parametrize(
    ("at", "high", "mend"),
    # Stations at 25, 80 and 135 of 160: to the last one and 6 from the head, from the first one and
    # 6 to the tail, both ends and 6 in the middle.
    [("head", 80, 141), ("tail", 80, 141), ("middle", 100, 122)],
)
def test_the_height_that_reaches_all_stations_does(at: str, high: int, mend: int) -> None:
    told = warns(build("wrap_cover", kind(2, height=high * MM, at=at)))
    assert f"Make it {mend} mm high to reach them all" in told
    assert build("wrap_cover", kind(2, height=mend * MM, at=at)).advice == ()


def test_a_station_on_the_very_end_of_a_folio_is_told() -> None:
    # Two stations of long stitch, the last at 140, where the folio ends.
    made = build("long_stitch", kind(2, height=140 * MM, at="head"))
    assert "1 of 4 stations misses the folio" in warns(made)
    assert "A station lies 0 mm from the end of the folio" in warns(made)
    assert "Make it 146 mm high" in warns(made)


def test_what_is_narrow_is_never_the_measure_of_a_trim() -> None:
    # The outermost is 20 mm narrower: nobody is to trim the others to it.
    made = build("wrap_cover", kind(2, count=4, inside=0, width=100 * MM), folios=4)
    assert made.creep_nm == 4 * 400_000 + 3 * 150_000
    text = says(made)
    assert (
        "120 mm from the fold: its folios stand 2.05 mm past that. What is narrower stays" in text
    )
    assert "makes them end together" not in text


def test_only_signatures_that_creep_are_trimmed() -> None:
    made = build("wrap_cover", kind(2, count=3, where="first"), signatures=3)
    # In the first one 4 × 0.15 + 3 × 0.4 lie on one another, less the innermost.
    assert made.creep_nm == 1_650_000
    assert (
        "Trim the fore edge of signature 1, 120 mm from the fold: its folios stand 1.65 mm past"
        in (says(made))
    )
    # What the others creep is less than the most.
    more = build("wrap_cover", kind(2, count=3, where="first"), signatures=3, folios=9)
    assert "of each signature, 120 mm from the fold: its folios stand up to 2.4 mm past" in says(
        more
    )
    assert "creep up to 2.4 mm past the width of the leaf" in warns(more)
    assert made.operations["cut"] == 12 + 3 + 1 + 1
    every = build("wrap_cover", kind(2, count=3), signatures=3)
    assert "Trim the fore edge of each signature" in says(every)
    assert every.operations["cut"] == 12 + 9 + 1 + 3


def test_a_kind_that_is_narrow_creeps_past_nothing() -> None:
    # Inside all plain ones, but 20 narrower: the innermost plain one stands out furthest.
    made = build("pamphlet", kind(2, count=9, inside=6, width=100 * MM))
    assert made.creep_nm == 5 * 150_000
    wide = build("pamphlet", kind(2, count=9, inside=6))
    assert wide.creep_nm == 6 * 150_000 + 8 * 400_000


def test_chain_stitch_goes_from_fold_to_fold_by_half_of_each() -> None:
    made = build("chain_stitch", kind(2, where="middle", count=2), signatures=3)
    [path] = made.thread
    across = sorted({x for point, (x, _, _) in zip(path.points, path.places, strict=True)
                     if not point.over})  # fmt: skip
    # Signatures of 1.2, 2.8 and 1.2 mm: their folds lie 2 mm from one another.
    assert across == [0, 2 * MM, 4 * MM]
    assert made.thickness_nm == 5_200_000 + 2 * 300_000 + 4 * 300_000


def test_dimensions_of_kinds_are_told_apart() -> None:
    dims = kind(2) | kind(7) | {"folios": 4}
    assert kinds_in(dims) == (2, 7)
    assert kinds_in(without_kind(dims, 7)) == (2,)
    assert "folios" in without_kind(dims, 2)
    assert kinds_in([f"folio{k}_count" for k in range(12)]) == tuple(range(2, MOST_KINDS + 1))
    made = structure_for("wrap_cover", dims)
    assert [r.key for r in made.roles] == [
        "leaves", "folio2", "folio7", "cover", "thread", "cord", "beads",
    ]  # fmt: skip
    assert [role_of(1), role_of(2)] == ["leaves", "folio2"]


@st.composite
def kinds_drawn(draw: st.DrawFn) -> list[dict[str, int | str]]:
    """Some kinds, as anybody might type them."""
    return [
        kind(
            number,
            count=draw(st.integers(0, 4)),
            inside=draw(st.integers(0, 5)),
            width=draw(st.sampled_from([0, 60, 110, 120, 121])) * MM,
            height=draw(st.sampled_from([0, 40, 100, 130, 160])) * MM,
            at=draw(st.sampled_from(["head", "middle", "tail"])),
            where=draw(st.sampled_from([value for value, _ in WHERE])),
            beside=draw(st.sampled_from(["with", "instead"])),
            grain=draw(st.sampled_from(["fold", "free"])),
        )
        for number in sorted(draw(st.sets(st.integers(2, MOST_KINDS), max_size=3)))
    ]


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(SEWN), kinds_drawn(), st.integers(2, 5), st.integers(1, 5))
def test_whatever_is_gathered_is_refused_or_whole(
    key: str, kinds: list[dict[str, int | str]], signatures: int, folios: int
) -> None:
    dims: dict[str, Any] = {"folios": folios}
    if key != "pamphlet":
        dims["signatures"] = signatures
    else:
        kinds = [{k: v for k, v in one.items() if "where" not in k and "beside" not in k}
                 for one in kinds]  # fmt: skip
        signatures = 1
    typed = dims | {key: value for one in kinds for key, value in one.items()}
    problems = structure_for(key, typed).problems(structure_for(key, typed).defaults() | typed)
    if problems:
        assert all(field.startswith("folio") for field in problems)
        return
    made = build(key, *kinds, **dims)
    pieces = [p for role, kinds_ in made.pieces.items() for p in kinds_ if p.name.endswith("folio")]
    total = sum(piece.count for piece in pieces)
    assert all(piece.count > 0 for piece in pieces)
    # Pieces, leaves, folds, templates and steps speak of the same folios.
    assert made.leaves == 2 * total
    # A case takes two endpapers, folded as well.
    assert made.operations["fold"] == total + (2 if key == "case_bound" else 0)
    flats = [f for f in made.flats if f.key.startswith("folio")]
    assert sum(f.count for f in flats) == total
    assert {(f.width_nm, f.height_nm, f.count) for f in flats} == {
        (p.width_nm, p.height_nm, p.count) for p in pieces
    }
    said = says(made)
    for piece in pieces:
        plain = "plain " if piece.name == "folio" and len(pieces) > 1 else ""
        assert f"Cut {piece.count} {plain}folio{'' if piece.count == 1 else 's'}" in said
    # What is added is one of what was there or more: never less paper or thread than plain ones.
    assert sum(p.count for p in made.pieces["leaves"]) <= folios * signatures
    for flat in flats:
        for hole in flat.holes:
            assert 0 < hole.y_nm < flat.height_nm
    # An enumeration of its own: every folio of every signature adds its leaves to the block.
    layers = sum(
        2 * piece.count * (150_000 if role == "leaves" else 400_000)
        for role, kinds_ in made.pieces.items()
        for piece in kinds_
        if piece.name.endswith("folio")
    )
    assert made.thickness_nm >= layers


@pytest.mark.parametrize(
    ("outer", "inner", "creep"),
    [((".20", 160), (".05", 40), ".60"), ((".05", 40), (".20", 160), ".45")],
)
def test_a_signature_of_three_papers_worked_out_by_hand(
    outer: tuple[str, int], inner: tuple[str, int], creep: str
) -> None:
    """A worked example of our own: six sheets of 297 by 210 folded once, of three papers.

    From the outside in one of 0.20 mm and 160 g/m², four of 0.10 and 80, one of 0.05 and 40. Creep
    is the thickness of the sheets outside: 0, .20, .30, .40, .50, .60; the other way round 0, .05,
    .15, .25, .35, .45.
    """

    def facts(name: str, sheet: tuple[str, int]) -> PaperFacts:
        return PaperFacts(name, int(Fraction(sheet[0]) * MM), Fraction(sheet[1]))

    dims: dict[str, Any] = {
        "folios": 4, "leaf_width": 297 * MM // 2, "leaf_height": 210 * MM, "square": 0,
        **{k: v for n, at in ((2, 0), (3, 4)) for k, v in kind(n, inside=at).items()
           if "where" not in k and "beside" not in k},
    }  # fmt: skip
    made = structure_for("pamphlet", dims)
    papers = {
        "leaves": facts("middle", (".10", 80)), "folio2": facts("outer", outer),
        "folio3": facts("inner", inner), "cover": PaperFacts("none", 0, Fraction(0)),
    }  # fmt: skip
    found = made.build(made.checked(made.defaults() | dims), papers)
    assert (found.leaves, found.pages) == (12, 24)
    # Twice the sum of the thicknesses, 2 × 0.65; 6.237 dm² of 160, four times 80 and 40 g/m².
    assert found.thickness_nm == 1_300_000
    assert found.paper_weight_mg(papers) == Fraction("32432.4")
    assert found.creep_nm == Fraction(creep) * MM


def test_one_and_several_are_said_as_such() -> None:
    alone = says(build("pamphlet", kind(2, height=130 * MM)))
    assert "Press it." in alone
    assert "Lay the folio of Wash {rough} with the head 15 mm below" in alone
    several = says(build("wrap_cover", kind(2, height=130 * MM)))
    assert "Press them, in order." in several
    assert "Lay the folios of Wash {rough} with the head" in several
    # Two of three signatures creep, by as much; then by different amounts.
    two = says(build("wrap_cover", kind(2, count=3, where="outer")))
    assert (
        "Trim the fore edge of signatures 1 and 3, 120 mm from the fold: its folios stand 1.65"
        in (two)
    )
    uneven = build("wrap_cover", kind(2, count=3, where="outer"), kind(3, count=1, where="last"))
    assert "of signatures 1 and 3, 120 mm from the fold: its folios stand up to 2.05 mm" in (
        says(uneven)
    )


def test_a_creep_of_a_millimetre_is_not_trimmed() -> None:
    # 0.4 and four of 0.15 lie outside the innermost: just one millimetre.
    made = build("wrap_cover", kind(2, inside=0), folios=5)
    assert made.creep_nm == MM
    assert made.advice == ()
    assert "Trim" not in says(made)
    assert made.operations["cut"] == 18 + 1


def test_the_deepest_a_kind_may_lie() -> None:
    made = build("pamphlet", kind(2, inside=40), folios=40)
    assert "from the outside in: 40 plain, then 1 of Wash" in says(made)
    assert "from the outside in: 1 of Wash {rough}, then 40 plain" in says(
        build("pamphlet", kind(2, inside=0), folios=40)
    )
