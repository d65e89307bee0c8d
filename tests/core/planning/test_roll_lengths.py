"""Goods off a roll: the length that is bought or cut off, against plain rows and brute force."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE, Cutter
from app.core.cutting.effort import Effort
from app.core.cutting.many_sheets.warm_start import KnownLayout
from app.core.cutting.model import Break, NoPlanError, SheetOffer, Wanted
from app.core.cutting.tree import is_whole
from app.core.length import MM
from app.core.paper import Piece, Sheet
from app.core.planning.kept_answer import answer_data, answer_from
from app.core.planning.paper_answer import PaperAnswer, answer_paper
from app.core.planning.paper_problem import (
    IN_STOCK,
    ON_ITS_WAY,
    TO_BUY,
    Dated,
    PaperProblem,
    SheetSource,
)
from app.core.planning.requirements import Demand
from tests.conftest import examples

DAY = date(2027, 3, 1)


def roll(wide: int = 1400, grain: str | None = None, trim: int = 0, **more: bool) -> Sheet:
    return Sheet(f"{wide} wide", wide * MM, 1, grain, trim_nm=trim * MM, **more)


def sold(key: str, sheet: Sheet, pack: int, *prices: tuple[int, int], days: int = 3) -> SheetSource:
    """So many millimetres a pack, at prices from so many packs on."""
    breaks = tuple(Break(least, price) for least, price in prices)
    offer = SheetOffer(key, sheet, pack * MM, breaks)
    return SheetSource(offer, TO_BUY, days, by_length=True)


def here(key: str, sheet: Sheet, long: int, state: str = IN_STOCK, days: int = -1) -> SheetSource:
    offer = SheetOffer(key, sheet, on_hand=long * MM, limit=0, value=Fraction(1, MM))
    return SheetSource(offer, state, days, by_length=True)


def asked(
    sources: list[SheetSource], *pieces: tuple[int, int, int], grain: str | None = None,
    cutter: Cutter = KNIFE,
) -> PaperProblem:  # fmt: skip
    wanted = tuple(
        Wanted(f"p{n}", Piece(f"p{n}", w * MM, h * MM, grain=grain), count)
        for n, (w, h, count) in enumerate(pieces)
    )
    demands = tuple(
        Dated(5, Demand(w.key, w.count, DAY, f"order {n}", f"order-{n}"))
        for n, w in enumerate(wanted)
    )
    return PaperProblem(wanted, tuple(sources), demands, cutter, Effort.LIVE)


def whole(answer: PaperAnswer, problem: PaperProblem) -> PaperAnswer:
    """Everything wanted is cut, nothing lies over another, each source gives what it has."""
    counts = {w.key: 0 for w in problem.wanted}
    for use in answer.plan.uses:
        sheet = use.supply.sheet
        assert (use.layout.width_nm, use.layout.height_nm) == (sheet.width_nm, sheet.height_nm)
        assert is_whole(use.layout, problem.cutter.kerf_nm)
        cut = [piece.name for piece in use.layout.pieces]
        assert {name: cut.count(name) for name in set(cut)} == {
            key: n for key, n in use.counts.items() if n
        }
        for key, n in use.counts.items():
            counts[key] += n * use.repeats
    assert all(counts[w.key] >= w.count for w in problem.wanted)
    known = {source.offer.key: source for source in problem.sources}
    taken: dict[str, int] = {}
    for share in answer.cuts:
        source = answer.problem.by_key[share.source]
        taken[share.source] = taken.get(share.source, 0) + share.sheets * source.takes
    assert sum(use.repeats for use in answer.plan.uses) == sum(c.sheets for c in answer.cuts)
    for key, nm in taken.items():
        if known[key].by_length and known[key].state != TO_BUY:
            assert nm <= known[key].offer.on_hand
    assert answer_from(problem, answer_data(answer)) == answer
    return answer


def length(answer: PaperAnswer) -> int:
    """Millimetres bought off rolls."""
    sources = [answer.problem.by_key[buy.offer.key] for buy in answer.plan.bought]
    return sum(source.takes for source in sources if source.takes > 1) // MM


@pytest.mark.parametrize(
    ("grain", "of_roll", "long"),
    [
        # Computed: 18 pieces 340 × 260 off a roll 1400 wide. 260 along it: 4 a row, 5 rows;
        # 340 along it: 5 a row, 4 rows; either way: 2 rows of 5 and 2 of 4.
        ("width", "width", 1300), ("width", "height", 1360), (None, None, 1200),
    ],
)  # fmt: skip
def test_eighteen_pieces_off_a_roll(grain: str | None, of_roll: str | None, long: int) -> None:
    problem = asked([sold("r", roll(grain=of_roll), 10, (1, 9))], (340, 260, 18), grain=grain)
    answer = whole(answer_paper(problem), problem)
    assert length(answer) == long
    assert answer.plan.spend == long // 10 * 9


def test_it_is_bought_in_whole_packs_and_at_the_price_of_their_number() -> None:
    problem = asked([sold("r", roll(grain="width"), 500, (1, 900), (3, 800))], (340, 260, 18),
                    grain="width")  # fmt: skip
    answer = whole(answer_paper(problem), problem)
    assert (length(answer), answer.plan.spend) == (1500, 2400)
    [source] = answer.problem.sources
    assert (source.packs, source.takes) == (3, 1500 * MM)
    piece = source.offer
    assert (piece.pack, piece.limit, piece.breaks, piece.value) == (1, 1, (Break(1, 2400),), 2400)
    # 1 590 000 mm² off a roll 1400 wide are 1137 mm at least: three packs.
    assert answer.plan.bound == 2400


def test_a_pack_more_can_cost_less_and_the_bound_knows() -> None:
    problem = asked([sold("r", roll(), 1000, (1, 900), (2, 400))], (340, 260, 5))
    answer = whole(answer_paper(problem), problem)
    assert (answer.plan.bound, answer.plan.spend, length(answer)) == (800, 800, 2000)


def test_what_lies_here_is_cut_first_and_no_longer_than_it_takes() -> None:
    sources = [here("l", roll(), 30_000), sold("r", roll(), 100, (1, 90))]
    problem = asked(sources, (340, 260, 18))
    answer = whole(answer_paper(problem), problem)
    assert not answer.plan.bought
    [share] = answer.cuts
    assert (share.source, answer.problem.by_key["l"].takes) == ("l", 1200 * MM)
    assert answer.worth == 1200
    assert answer.lengths == {"l": (1200 * MM, 0)}


def test_a_short_end_is_used_up_and_only_what_is_missing_is_bought() -> None:
    sources = [here("end", roll(grain="width"), 600), sold("r", roll(grain="width"), 10, (1, 9))]
    problem = asked(sources, (340, 260, 18), grain="width")
    answer = whole(answer_paper(problem), problem)
    # Two rows off the end, three to buy; of the end 80 mm stay on it.
    assert length(answer) == 780
    assert answer.problem.by_key["end"].takes == 520 * MM


def test_two_lengths_of_one_size_are_two_lengths() -> None:
    sources = [here("a", roll(), 300), here("b", roll(), 300), here("c", roll(), 300)]
    problem = asked(sources, (1400, 300, 2))
    answer = whole(answer_paper(problem), problem)
    assert sum(c.sheets for c in answer.cuts) == 2
    with pytest.raises(NoPlanError):
        answer_paper(asked(sources, (1400, 600, 1)))


def test_selvedges_and_the_blade_are_lost() -> None:
    saw = replace(KNIFE, kerf_nm=2 * MM)
    problem = asked([sold("r", roll(1040, trim=20), 1, (1, 1))], (500, 100, 6), cutter=saw)
    # 1000 usable holds one of 500 and a kerf beside it, not two.
    answer = whole(answer_paper(problem), problem)
    # But upright all six stand in one row.
    assert length(answer) == 40 + 500
    one = asked([sold("r", roll(1042, trim=20), 1, (1, 1))], (500, 100, 6), cutter=saw)
    assert length(whole(answer_paper(one), one)) == 40 + 3 * 100 + 2 * 2


def test_a_piece_wider_than_the_roll_lies_along_it_or_is_refused() -> None:
    problem = asked([sold("r", roll(300), 1, (1, 1))], (500, 200, 2))
    assert length(whole(answer_paper(problem), problem)) == 1000
    for stubborn in (roll(300, pattern_up=True), roll(150)):
        with pytest.raises(NoPlanError):
            answer_paper(asked([sold("r", stubborn, 1, (1, 1))], (500, 200, 2)))


def test_sheets_beside_a_roll_are_taken_where_they_cost_less() -> None:
    sheet = SheetOffer("s", Sheet("sheet", 700 * MM, 500 * MM), 1, (Break(1, 100),))
    for price, bought in ((1, {"r"}), (50, {"s"})):
        sources = [sold("r", roll(), 10, (1, price)), SheetSource(sheet, TO_BUY, 2)]
        problem = asked(sources, (350, 250, 8))
        answer = whole(answer_paper(problem), problem)
        assert {buy.offer.key for buy in answer.plan.bought} == bought


def test_of_two_rolls_the_cheaper_that_comes_in_time() -> None:
    quick, slow = sold("q", roll(), 10, (1, 9), days=3), sold("s", roll(1000), 10, (1, 2), days=9)
    problem = asked([quick, slow], (340, 260, 18))
    answer = whole(answer_paper(problem), problem)
    assert [buy.offer.key for buy in answer.plan.bought] == ["q"]
    assert "s" in answer.left_out


def test_what_was_bought_for_a_plan_is_enough_for_it() -> None:
    sources = [here("end", roll(), 300), sold("r", roll(), 100, (1, 90))]
    problem = asked(sources, (340, 260, 18), (120, 90, 31), (500, 80, 7))
    first = whole(answer_paper(problem), problem)
    start = tuple(KnownLayout(use.layout, use.repeats) for use in first.plan.uses)
    came = here("came", roll(), length(first), ON_ITS_WAY, 3)
    again = replace(problem, sources=(sources[0], came, sources[1]), start=start)
    assert whole(answer_paper(again), again).plan.spend == 0


def by_rows(pieces: tuple[tuple[int, int, int], ...], wide: int, kerf: int = 0) -> int:
    """The least length by whole rows of one height, each piece either way: every choice tried."""
    lying = [(w, h) for w, h, count in pieces for _ in range(count)]
    best = 10**9
    for turns in itertools.product((False, True), repeat=len(lying)):
        sized = [(h, w) if turn else (w, h) for (w, h), turn in zip(lying, turns, strict=True)]
        if any(w > wide for w, _ in sized):
            continue
        for rows in _partitions(list(range(len(sized)))):
            if all(sum(sized[i][0] + kerf for i in row) <= wide + kerf for row in rows):
                high = sum(max(sized[i][1] for i in row) + kerf for row in rows) - kerf
                best = min(best, high)
    return best


def _partitions(things: list[int]):  # type: ignore[no-untyped-def]
    if not things:
        yield []
        return
    first, *rest = things
    for found in _partitions(rest):
        yield [[first], *found]
        for n in range(len(found)):
            yield [*found[:n], [first, *found[n]], *found[n + 1 :]]


@settings(max_examples=examples(25), deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(20, 90), st.integers(20, 90), st.integers(1, 3)),
        min_size=1, max_size=2,
    ),
    st.integers(90, 200), st.sampled_from([0, 3]), st.sampled_from([0, 7]),
)  # fmt: skip
def test_no_choice_of_whole_rows_is_shorter(
    sizes: list[tuple[int, int, int]], wide: int, kerf: int, trim: int
) -> None:
    pieces = tuple(sizes)
    cutter = replace(KNIFE, kerf_nm=kerf * MM)
    least = by_rows(pieces, wide, kerf) + 2 * trim
    of_roll = roll(wide + 2 * trim, trim=trim)
    problem = asked([sold("r", of_roll, 1, (1, 1))], *pieces, cutter=cutter)
    answer = whole(answer_paper(problem), problem)
    assert length(answer) <= least
    area = sum(w * h * n for w, h, n in pieces)
    bound = -(-area // (wide + 2 * trim))
    assert answer.plan.bound == bound <= answer.plan.spend == length(answer)
    # A length that is here does if it is as long as that, and no shorter one is said to.
    enough = asked([here("l", of_roll, length(answer))], *pieces, cutter=cutter)
    assert whole(answer_paper(enough), enough).plan.spend == 0
    for short in (bound - 1, 2 * trim + min(min(a, b) for a, b, _ in pieces) - 1):
        with pytest.raises(NoPlanError):
            answer_paper(asked([here("l", of_roll, short)], *pieces, cutter=cutter))


@pytest.mark.parametrize(("wide", "fits"), [(1000, True), (999, False)])
def test_selvedges_count_on_both_sides(wide: int, fits: bool) -> None:
    problem = asked(
        [sold("r", roll(wide + 40, "width", trim=20), 1, (1, 1))], (1000, 300, 2), grain="width"
    )
    if fits:
        assert length(whole(answer_paper(problem), problem)) == 640
    else:
        with pytest.raises(NoPlanError):
            answer_paper(problem)


def test_an_end_just_as_high_as_a_piece_does() -> None:
    for long, does in ((300, True), (299, False)):
        ends = [here("a", roll(grain="width"), long), here("b", roll(grain="width"), 320)]
        problem = asked(ends, (700, 300, 4), grain="width")
        if does:
            answer = whole(answer_paper(problem), problem)
            assert sum(s.takes for s in answer.problem.sources) == 600 * MM
        else:
            with pytest.raises(NoPlanError):
                answer_paper(problem)


def test_what_is_here_lowers_what_a_plan_must_cost() -> None:
    scrap = SheetOffer("s", Sheet("scrap", 700 * MM, 300 * MM), on_hand=1, limit=0)
    sources = [here("a", roll(), 300), sold("r", roll(), 100, (1, 90)), sold_sheet(scrap)]
    problem = asked(sources, (700, 300, 9))
    answer = whole(answer_paper(problem), problem)
    # 9 pieces: 2 off the end, 1 the scrap, 6 off 900 mm: nothing can be cheaper.
    assert (answer.plan.spend, answer.plan.bound) == (810, 810)
    # Of two scraps one piece more: 750 mm by area, three rows of 300 mm all the same.
    more = asked([*sources[:2], sold_sheet(replace(scrap, on_hand=2))], (700, 300, 9))
    bound = answer_paper(more).plan.bound
    assert bound == 720
    two = asked([*sources, sold("q", roll(), 100, (1, 95))], (700, 300, 9))
    assert answer_paper(two).plan.bound == 0


def sold_sheet(offer: SheetOffer) -> SheetSource:
    return SheetSource(offer, IN_STOCK, -1)


def test_least_packs_and_dear_ones() -> None:
    """An offer from three packs on; of two offers for one need, the one that costs less for it."""
    problem = asked([sold("r", roll(), 100, (3, 90))], (1400, 100, 1))
    assert whole(answer_paper(problem), problem).plan.spend == 270
    sources = [sold("a", roll(), 100, (1, 100)), sold("b", roll(), 300, (1, 240))]
    for rows, spend in ((1, 100), (2, 200), (3, 240), (4, 340), (6, 480)):
        problem = asked(sources, (1400, 100, rows))
        assert whole(answer_paper(problem), problem).plan.spend == spend


def test_earlier_ends_are_filled_as_full_as_can_be() -> None:
    ends = [
        here("soon", roll(grain="width"), 500),
        here("late", roll(grain="width"), 900, ON_ITS_WAY, 3),
    ]
    problem = asked(ends, (1400, 300, 1), (1400, 200, 3), grain="width")
    answer = whole(answer_paper(problem), problem)
    takes = {s.offer.key: s.takes // MM for s in answer.problem.sources}
    assert takes == {"soon": 500, "late": 400}


def test_a_bolt_and_a_large_order_are_planned_by_rows() -> None:
    problem = asked([sold("bolt", roll(), 30_000, (1, 30_000))], (311, 170, 13))
    assert whole(answer_paper(problem), problem).plan.spend == 30_000
    many = asked([sold("r", roll(), 500, (1, 900))], (311, 170, 1700), (471, 260, 900))
    answer = whole(answer_paper(many), many)
    assert answer.plan.bound <= answer.plan.spend <= answer.plan.bound * 1.1


def test_wide_and_narrow_rolls_each_do_what_they_do_for_less() -> None:
    sources = [sold("narrow", roll(600, "width"), 1, (1, 1)),
               sold("wide", roll(1400, "width"), 1, (1, 10))]  # fmt: skip
    problem = asked(sources, (1000, 300, 1), (280, 300, 20), grain="width")
    assert whole(answer_paper(problem), problem).plan.spend <= 6000


def test_packs_of_two_offers_of_one_roll() -> None:
    sources = [sold("short", roll(), 100, (1, 200)), sold("long", roll(), 5000, (1, 5000))]
    problem = asked(sources, (1400, 500, 11), grain=None)
    answer = whole(answer_paper(problem), problem)
    assert answer.plan.spend == 6000


def test_a_roll_for_what_no_sheet_holds_and_sheets_for_the_rest() -> None:
    sheet = SheetOffer("s", Sheet("sheet", 500 * MM, 700 * MM), 1, (Break(1, 100),))
    sources = [sold("r", roll(), 1, (1, 10)), SheetSource(sheet, TO_BUY, 2)]
    problem = asked(sources, (1000, 600, 1), (480, 680, 10))
    assert whole(answer_paper(problem), problem).plan.spend <= 7000
    small = SheetOffer("s", Sheet("sheet", 320 * MM, 180 * MM), 1, (Break(1, 30),))
    sources = [sold("r", roll(), 500, (1, 900)), SheetSource(small, TO_BUY, 2)]
    problem = asked(sources, (311, 170, 13), (471, 260, 2))
    assert whole(answer_paper(problem), problem).plan.spend <= 1290


def test_of_two_ends_no_more_is_cut_than_off_one_length() -> None:
    ends = [here("a", roll(), 400), here("b", roll(), 450), sold("r", roll(), 500, (1, 900))]
    problem = asked(ends, (311, 170, 13))
    answer = whole(answer_paper(problem), problem)
    assert answer.plan.spend == 0
    assert sum(source.takes for source in answer.problem.sources) == 622 * MM


def test_short_ends_are_cut_in_lower_rows() -> None:
    for trim, long in ((0, 180), (0, 170), (5, 180)):
        ends = [here(key, roll(1400 + 2 * trim, trim=trim), long) for key in "ab"]
        problem = asked(ends, (311, 170, 7))
        answer = whole(answer_paper(problem), problem)
        takes = sum(source.takes for source in answer.problem.sources)
        assert takes == 2 * (170 + 2 * trim) * MM


def test_an_end_of_another_width_is_cut_beside_the_roll_that_is_bought() -> None:
    sources = [here("narrow", roll(600, "width"), 300), sold("r", roll(1400, "width"), 100, (1, 9))]
    problem = asked(sources, (600, 300, 3), grain="width")
    answer = whole(answer_paper(problem), problem)
    assert (answer.plan.spend, answer.problem.by_key["narrow"].takes) == (27, 300 * MM)


def test_of_two_offers_for_the_same_the_first_is_bought() -> None:
    for key in "ab":
        sources = [sold(key, roll(), 100, (1, 9)), sold("ba"[key == "b"], roll(), 100, (1, 9))]
        problem = asked(sources, (700, 300, 5))
        answer = whole(answer_paper(problem), problem)
        assert [buy.offer.key for buy in answer.plan.bought] == [key]


@pytest.mark.parametrize(("stages", "long"), [(None, 40), (2, 40), (1, 60)])
def test_cutting_rows_off_is_one_turn_of_the_cutter(stages: int | None, long: int) -> None:
    cutter = replace(KNIFE, stages=stages)
    problem = asked(
        [sold("r", roll(100, "width"), 1, (1, 1))], (60, 40, 1), (30, 20, 1),
        grain="width", cutter=cutter,
    )  # fmt: skip
    assert length(whole(answer_paper(problem), problem)) == long


def test_two_hundred_lengths_are_no_burden() -> None:
    ends = [here(f"l{n}", roll(), 200 + n % 7 * 40) for n in range(200)]
    problem = asked([*ends, sold("r", roll(), 500, (1, 900))], (311, 170, 300), (150, 210, 900))
    answer = whole(answer_paper(problem), problem)
    assert answer.plan.spend == 0
    assert answer.plan.steps <= 2 * 500_000


def test_what_cannot_be_cut_by_any_length_here_is_refused() -> None:
    with pytest.raises(NoPlanError):
        answer_paper(asked([here("a", roll(), 500)], (311, 170, 40)))


def test_kinds_apart_keep_rows_of_their_own() -> None:
    problem = replace(
        asked([sold("r", roll(), 1, (1, 1))], (311, 170, 5), (100, 160, 3)), apart=True
    )
    answer = whole(answer_paper(problem), problem)
    together = answer_paper(replace(problem, apart=False))
    assert answer.plan.spend >= together.plan.spend
