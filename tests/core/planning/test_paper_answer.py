"""A paper's answer: in time where it can be, no dearer than what stands beside it, told when cut."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE
from app.core.cutting.effort import Effort
from app.core.cutting.model import Break, NoPlanError, SheetOffer, Wanted
from app.core.length import MM
from app.core.paper import Piece, Sheet
from app.core.planning.paper_answer import PaperAnswer, answer_paper
from app.core.planning.paper_problem import (
    DRAFTED,
    IN_STOCK,
    ON_ITS_WAY,
    TO_BUY,
    Dated,
    PaperProblem,
    SheetSource,
)
from app.core.planning.requirements import Demand

DAY = date(2027, 3, 1)
G = Sheet("G", 400 * MM, 300 * MM)
H = Sheet("H", 600 * MM, 300 * MM)
SCRAP = Sheet("scrap", 100 * MM, 100 * MM)
HALF = Piece("half", 300 * MM, 200 * MM)


def here(key: str, sheet: Sheet, number: int, worth: int = 0) -> SheetSource:
    offer = SheetOffer(key, sheet, on_hand=number, limit=0, value=Fraction(worth))
    return SheetSource(offer, IN_STOCK, -1)


def coming(key: str, sheet: Sheet, number: int, days: int, state: str = ON_ITS_WAY) -> SheetSource:
    return replace(here(key, sheet, number), state=state, days=days)


def sold(key: str, sheet: Sheet, price: int, days: int, pack: int = 1) -> SheetSource:
    return SheetSource(SheetOffer(key, sheet, pack, (Break(1, price * pack),)), TO_BUY, days)


def problem(
    sources: list[SheetSource], demands: list[tuple[str, Piece, int, int]], **more: object
) -> PaperProblem:
    """Demands as key, piece, how many, and in how many days the bench begins with them."""
    counts: dict[str, tuple[Piece, int]] = {}
    dated = []
    for number, (key, piece, count, days) in enumerate(demands):
        counts[key] = (piece, counts.get(key, (piece, 0))[1] + count)
        by = DAY + timedelta(days=days)
        dated.append(Dated(days, Demand(key, count, by, f"order {number}", f"order-{number}")))
    wanted = tuple(Wanted(key, piece, count) for key, (piece, count) in counts.items())
    dated.sort(key=lambda row: row.days)
    made = PaperProblem(wanted, tuple(sources), tuple(dated), KNIFE, Effort.LIVE)
    return replace(made, **more)  # type: ignore[arg-type]


def late(answer: PaperAnswer) -> bool:
    days = {row.demand.link: row.days for row in answer.problem.demands}
    return any(
        answer.problem.by_key[cut.source].days > days[peg.demand.link]
        for cut in answer.cuts
        for peg in cut.pegs
        if not answer.problem.by_key[cut.source].here
    )


Y, Z = Piece("y", 400 * MM, 300 * MM), Piece("z", 300 * MM, 300 * MM)


def test_what_no_supplier_can_bring_in_time_is_cut_from_what_is_here() -> None:
    """Two here go to the one wanted at once; the other waits for the cheaper sheet."""
    sources = [here("here", G, 2), sold("h", H, 100, 9), sold("g", G, 150, 9)]
    demands = [("y", Y, 2, 3), ("z", Z, 2, 20)]
    answer = answer_paper(problem(sources, demands))
    assert (answer.plan.spend, answer.plan.bound, late(answer)) == (100, 100, False)


def test_a_scrap_on_its_way_changes_nothing() -> None:
    sources = [here("here", G, 2), sold("h", H, 100, 9), sold("g", G, 150, 9)]
    demands = [("y", Y, 2, 3), ("z", Z, 2, 20)]
    with_scrap = [*sources, coming("scrap", SCRAP, 1, 0)]
    answer = answer_paper(problem(with_scrap, demands))
    assert (answer.plan.spend, late(answer)) == (100, False)


def test_a_cheap_offer_that_comes_too_late_is_left_out_and_told() -> None:
    """The bound is of all that is on offer, so that nothing untrue is said of it."""
    answer = answer_paper(
        problem([sold("slow", G, 50, 9), sold("quick", H, 200, 2)], [("y", HALF, 4, 5)])
    )
    assert ([buy.offer.key for buy in answer.plan.bought], late(answer)) == (["quick"], False)
    assert answer.left_out == {"slow"}
    assert answer.plan.bound <= 100
    assert [(r.name, r.late) for r in answer.rivals] == [("G", True), ("H", False)]


def test_where_nobody_comes_in_time_the_cheapest_is_taken() -> None:
    answer = answer_paper(
        problem([sold("slow", G, 50, 9), sold("quick", H, 200, 7)], [("y", HALF, 4, 5)])
    )
    assert [buy.offer.key for buy in answer.plan.bought] == ["slow"]
    assert not any(rival.late for rival in answer.rivals)


@pytest.mark.parametrize(
    "others",
    [
        [coming("way", G, 5, 10), coming("draft", G, 5, 2, DRAFTED)],
        [coming("way", G, 5, 10), sold("buy", G, 10, 2, pack=5)],
        [coming("way-2", G, 3, 4), coming("way-10", G, 3, 2), coming("draft", G, 3, 9, DRAFTED)],
    ],
)
def test_sheets_by_state_are_those_of_the_cuts(others: list[SheetSource]) -> None:
    answer = answer_paper(problem([here("here", G, 1, 9), *others], [("y", Y, 6, 12)]))
    counted: dict[str, int] = {}
    for cut in answer.cuts:
        state = answer.problem.by_key[cut.source].state
        counted[state] = counted.get(state, 0) + cut.sheets
    assert answer.sheets_by_state == counted
    assert sum(counted.values()) == answer.plan.sheets == 6
    assert answer.worth == sum(
        cut.sheets * answer.problem.by_key[cut.source].offer.value for cut in answer.cuts
    )


KINDS = [
    (f"p{n}", Piece(f"p{n}", (83 + 37 * n) * MM, (71 + 29 * n) * MM), 11 + 17 * n, 8 + n)
    for n in range(5)
]
SIZES = [
    sold("a", Sheet("A", 640 * MM, 900 * MM), 100, 6),
    sold("b", Sheet("B", 560 * MM, 760 * MM), 78, 7),
    here("c", Sheet("C", 420 * MM, 594 * MM), 9, 40),
]


def test_an_answer_is_cut_short_if_anything_that_went_into_it_was() -> None:
    calls = 0

    def count(doing: str, share: float) -> bool:
        nonlocal calls
        calls += 1
        return False

    whole = answer_paper(problem(SIZES, KINDS), count)
    assert not whole.plan.cut_short
    for stop in (1, calls // 3, calls // 2, calls * 3 // 4, calls):
        left = stop

        def stopping(doing: str, share: float) -> bool:
            nonlocal left
            left -= 1
            return left <= 0

        assert answer_paper(problem(SIZES, KINDS), stopping).plan.cut_short


def test_progress_is_heard_and_changes_nothing() -> None:
    told = answer_paper(problem(SIZES, KINDS), lambda doing, share: False)
    assert told == answer_paper(problem(SIZES, KINDS))


@settings(max_examples=25)
@given(
    st.lists(
        st.tuples(st.integers(60, 320), st.integers(60, 320), st.integers(1, 25), st.integers(0, 20)),
        min_size=1, max_size=4,
    ),
    st.lists(st.tuples(st.sampled_from([G, H, SIZES[0].offer.sheet]), st.integers(20, 200),
                       st.integers(0, 15), st.integers(1, 4)), min_size=1, max_size=3),
    st.integers(0, 6), st.booleans(),
)  # fmt: skip
def test_whatever_is_asked_the_answer_holds(
    pieces: list[tuple[int, int, int, int]], offers: list[tuple[Sheet, int, int, int]],
    there: int, apart: bool,
) -> None:  # fmt: skip
    sources = [sold(f"o{n}", sheet, price, days, pack)
               for n, (sheet, price, days, pack) in enumerate(offers)]  # fmt: skip
    sources.append(here("here", G, there, 10))
    demands = [(f"p{n}", Piece(f"p{n}", w * MM, h * MM), count, days)
               for n, (w, h, count, days) in enumerate(pieces)]  # fmt: skip
    asked = problem(sources, demands, apart=apart)
    try:
        answer = answer_paper(asked)
    except NoPlanError:
        return
    for w in asked.wanted:
        cut = sum(use.counts.get(w.key, 0) * use.repeats for use in answer.plan.uses)
        pegged = sum(p.quantity for c in answer.cuts for p in c.pegs if p.demand.thing == w.key)
        assert cut == pegged == w.count
    used: dict[str, int] = {}
    for share in answer.cuts:
        used[share.source] = used.get(share.source, 0) + share.sheets
    bought = {buy.offer.key: buy.sheets for buy in answer.plan.bought}
    for key, number in used.items():
        assert number <= asked.by_key[key].offer.on_hand + bought.get(key, 0)
    assert answer.plan.bound <= answer.plan.spend
    for rival in answer.rivals:
        assert rival.spend is None or rival.late or answer.plan.spend <= rival.spend
    other = answer.otherwise
    assert apart or other is None or other.late or answer.plan.spend <= (other.spend or 0)


NARROW = Sheet("narrow", 350 * MM, 300 * MM)
FITS_BOTH = Piece("y", 300 * MM, 300 * MM)


@pytest.mark.parametrize("orders", [[2], [1, 1]])
@pytest.mark.parametrize("days", [9, 20])
def test_who_can_wait_waits_for_a_dearer_sheet(orders: list[int], days: int) -> None:
    """Cheapest of all is to cut what is here for the one that can wait: then the other is late."""
    sources = [here("here", G, 2), sold("narrow", NARROW, 100, 9), sold("g", G, 150, 9)]
    hurried = [("y", FITS_BOTH, count, 3) for count in orders]
    answer = answer_paper(problem(sources, [*hurried, ("z", Y, 2, days)]))
    assert not late(answer)
    assert (answer.plan.spend, answer.plan.bound) == (300, 200)
    assert {cut.source for cut in answer.cuts if "y" in cut.use.counts} == {"here"}
    nobody = answer_paper(problem(sources, [("y", FITS_BOTH, 2, 30), ("z", Y, 2, 30)]))
    assert nobody.plan.spend == 200


def test_the_other_way_is_kinds_apart_or_together() -> None:
    asked = problem(SIZES, [(key, piece, count, 30) for key, piece, count, _ in KINDS])
    together, apart = answer_paper(asked), answer_paper(replace(asked, apart=True))
    assert together.otherwise is not None
    assert apart.otherwise is not None
    assert together.plan.spend < apart.plan.spend == together.otherwise.spend
    assert apart.otherwise.spend is not None
    assert apart.otherwise.spend < apart.plan.spend
    assert all(len(use.counts) == 1 for use in apart.plan.uses)
    assert {rival.name for rival in together.rivals} == {"A", "B"}
    assert [r.spend for r in together.rivals] == sorted(r.spend or 0 for r in together.rivals)


def test_one_kind_of_one_size_has_nothing_beside_it() -> None:
    answer = answer_paper(problem([sold("g", G, 150, 2)], [("y", Y, 2, 9)]))
    assert (answer.otherwise, answer.rivals, answer.plan.spend) == (None, (), 300)
    from_stock = answer_paper(problem([here("here", G, 2)], [("y", Y, 2, 9), ("z", Z, 0, 9)]))
    assert (from_stock.otherwise, from_stock.rivals, from_stock.plan.spend) == (None, (), 0)


def test_what_fits_nowhere_or_is_not_to_be_had_has_no_plan() -> None:
    for sources in ([], [sold("scrap", SCRAP, 5, 2)], [here("here", G, 1)]):
        with pytest.raises(NoPlanError):
            answer_paper(problem(sources, [("y", Y, 2, 9)]))


def test_two_in_a_hurry_are_cut_from_what_is_here_before_all_else() -> None:
    """Without that the cheaper sheets, which others can wait for, would have to be left out."""
    sources = [
        here("here", G, 2), sold("narrow", NARROW, 100, 9), sold("g", G, 150, 9),
        sold("h", H, 180, 9),
    ]  # fmt: skip
    demands = [("y", FITS_BOTH, 1, 3), ("y", FITS_BOTH, 1, 4), ("z", Y, 2, 9), ("x", HALF, 4, 20)]
    answer = answer_paper(problem(sources, demands))
    assert not late(answer)
    assert answer.plan.bound <= answer.plan.spend
    hurried = {c.source for c in answer.cuts for p in c.pegs if p.demand.by < DAY + timedelta(9)}
    assert hurried == {"here"}
    assert sum(c.sheets for c in answer.cuts if c.source == "here") == 2
    quick = [here("here", G, 2), sold("h", H, 100, 9), sold("g", G, 150, 2)]
    two = answer_paper(problem(quick, [("y", FITS_BOTH, 2, 1), ("z", Y, 2, 20)]))
    assert (two.plan.spend, late(two)) == (200, False)


def test_four_that_can_wait_are_not_bought_dearer_for_two_that_cannot() -> None:
    sources = [
        here("here", G, 2), sold("narrow", NARROW, 100, 9), sold("g", G, 150, 9),
        sold("h", H, 180, 9),
    ]  # fmt: skip
    same = FITS_BOTH
    demands = [("y", same, 1, 3), ("y", same, 1, 4), ("z", Y, 2, 9), ("x", same, 4, 20)]
    answer = answer_paper(problem(sources, demands))
    assert (answer.plan.spend, late(answer)) == (660, False)
