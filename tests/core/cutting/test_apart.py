"""Kinds cut apart: which sheets to buy, against trying every number of sheets and packs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.core.cutting.cutter import KNIFE
from app.core.cutting.many_sheets.plan import BatchPlan
from app.core.cutting.many_sheets.planner import plan_apart, plan_as_known, plan_batch
from app.core.cutting.many_sheets.warm_start import KnownLayout
from app.core.cutting.model import Break, NoPlanError, SheetOffer, Wanted
from app.core.cutting.one_sheet.yields import yield_of
from app.core.paper import Piece, Sheet

FOLIO = Piece("folio", 240, 160, 1, "height")
HALF = Sheet("half", 560, 760, "height")
SMALL = Sheet("small", 420, 594, "height")


def sheets_cut(plan: BatchPlan) -> dict[str, int]:
    """Sheets cut by their size's name."""
    cut: dict[str, int] = {}
    for use in plan.uses:
        name = use.supply.sheet.name
        cut[name] = cut.get(name, 0) + use.repeats
    return cut


def check_covers(plan: BatchPlan, wanted: list[Wanted], offers: list[SheetOffer]) -> None:
    """Every piece is cut as often as wanted, one kind a sheet, from sheets that are there."""
    for w in wanted:
        assert sum(use.counts.get(w.key, 0) * use.repeats for use in plan.uses) == w.count
    assert all(len(use.counts) == 1 for use in plan.uses)
    there: dict[str, int] = {}
    for offer in offers:
        bought = sum(buy.sheets for buy in plan.bought if buy.offer == offer)
        assert offer.limit is None or bought <= offer.limit
        there[offer.sheet.name] = there.get(offer.sheet.name, 0) + offer.on_hand + bought
    assert all(n <= there[name] for name, n in sheets_cut(plan).items())


def test_whole_packs_are_bought_and_stock_is_used_first() -> None:
    offer = SheetOffer("buy", HALF, 10, (Break(1, 4600),))
    here = SheetOffer("here", HALF, on_hand=3, limit=0)
    plan = plan_apart([Wanted("folio", FOLIO, 96)], [offer, here])
    assert [(buy.offer.key, buy.packs, buy.cost) for buy in plan.bought] == [("buy", 1, 4600)]
    assert plan.sheets == 12


def test_enough_on_hand_buys_nothing() -> None:
    offers = [
        SheetOffer("buy", HALF, 10, (Break(1, 4600),)),
        SheetOffer("here", HALF, on_hand=12, limit=0),
    ]
    plan = plan_apart([Wanted("folio", FOLIO, 96)], offers)
    assert plan.bought == ()
    assert plan.spend == 0


def test_a_price_break_is_bought_into_where_it_saves() -> None:
    # Four packs at 10 cost 40; five at 7 cost 35.
    offer = SheetOffer("a", HALF, 1, (Break(1, 10), Break(5, 7)))
    plan = plan_apart([Wanted("folio", FOLIO, 32)], [offer])
    assert [(buy.packs, buy.cost) for buy in plan.bought] == [(5, 35)]


def test_a_least_order_is_kept() -> None:
    offer = SheetOffer("a", HALF, 1, (Break(3, 10),))
    plan = plan_apart([Wanted("folio", FOLIO, 8)], [offer])
    assert [(buy.packs, buy.cost) for buy in plan.bought] == [(3, 30)]


def test_packs_that_cost_nothing_are_not_taken_for_nothing() -> None:
    offers = [
        SheetOffer("free", SMALL, 10, (Break(1, 0),)),
        SheetOffer("here", HALF, on_hand=100, limit=0),
    ]
    plan = plan_apart([Wanted("folio", FOLIO, 96)], offers)
    used = sheets_cut(plan).get("small", 0)
    assert sum(buy.sheets for buy in plan.bought) - used < 10


def test_of_equal_money_the_least_worth_is_cut() -> None:
    dear = SheetOffer("dear", HALF, on_hand=12, limit=0, value=Fraction(500))
    cheap = SheetOffer("cheap", SMALL, on_hand=50, limit=0, value=Fraction(100))
    plan = plan_apart([Wanted("folio", FOLIO, 96)], [dear, cheap])
    assert sheets_cut(plan) == {"small": 32}


def test_little_work_still_gives_a_plan() -> None:
    pieces = [Piece(f"p{n}", 90 + 7 * n, 60 + 5 * n) for n in range(12)]
    wanted = [Wanted(p.name, p, 17 + n) for n, p in enumerate(pieces)]
    offers = [
        SheetOffer(
            f"s{n}", Sheet(f"s{n}", 500 + 31 * n, 700 + 41 * n), 7, (Break(1, 700 + 97 * n),)
        )
        for n in range(8)
    ]
    plan = plan_apart(wanted, offers, effort=300_000)
    check_covers(plan, wanted, offers)


def test_what_fits_nowhere_is_named() -> None:
    big = Piece("board", 900, 900)
    with pytest.raises(NoPlanError, match="board"):
        plan_apart([Wanted("board", big, 1)], [SheetOffer("a", HALF, 1, (Break(1, 1),))])


def test_limits_that_cannot_cover_are_said() -> None:
    offer = SheetOffer("a", HALF, 10, (Break(1, 4600),), limit=10)
    with pytest.raises(NoPlanError, match="cannot cover"):
        plan_apart([Wanted("folio", FOLIO, 81)], [offer])


def test_nothing_wanted_is_an_empty_plan() -> None:
    assert plan_apart([Wanted("folio", FOLIO, 0)], []).uses == ()


@st.composite
def problems(draw: st.DrawFn) -> tuple[list[Wanted], list[SheetOffer]]:
    pieces = [Piece("a", 5, 4), Piece("b", 3, 3)]
    wanted = [
        Wanted(piece.name, piece, draw(st.integers(0, 14)))
        for piece in pieces[: draw(st.integers(1, 2))]
    ]
    offers = []
    for index, sheet in enumerate((Sheet("s", 8, 6), Sheet("t", 10, 13))):
        price = draw(st.integers(1, 30))
        breaks = [Break(1, price)]
        if draw(st.booleans()):
            breaks.append(Break(draw(st.integers(2, 4)), draw(st.integers(1, price))))
        limit = draw(st.sampled_from([None, None, 2, 4]))
        pack = draw(st.integers(1, 3))
        offers.append(SheetOffer(f"{index}", sheet, pack, tuple(breaks), 0, limit))
        hand = draw(st.integers(0, 2))
        if hand:
            offers.append(SheetOffer(f"here {index}", sheet, on_hand=hand, limit=0))
    return wanted, offers


def least_by_trying(wanted: list[Wanted], offers: list[SheetOffer]) -> int | None:
    """The least money over every number of packs, each checked by every way to share sheets."""
    best: int | None = None
    ranges = []
    for offer in offers:
        most = 0 if not offer.breaks else 16
        if offer.limit is not None:
            most = min(most, offer.limit // offer.pack)
        ranges.append(range(most + 1))
    for packs in product(*ranges):
        cost = 0
        sheets: dict[Sheet, int] = {}
        for offer, n in zip(offers, packs, strict=True):
            if n:
                cost += n * [b.price for b in offer.breaks if b.from_packs <= n][-1]
            there = offer.on_hand + n * offer.pack
            sheets[offer.sheet] = sheets.get(offer.sheet, 0) + there
        if (best is None or cost < best) and _covers(wanted, list(sheets.items())):
            best = cost
    return best


def _covers(wanted: list[Wanted], sheets: list[tuple[Sheet, int]]) -> bool:
    if not wanted:
        return True
    first, rest = wanted[0], wanted[1:]
    for split in product(*(range(n + 1) for _, n in sheets)):
        got = sum(
            n * yield_of(first.piece, sheet).best
            for n, (sheet, _) in zip(split, sheets, strict=True)
        )
        if got >= first.count:
            left = [(s, n - used) for used, (s, n) in zip(split, sheets, strict=True)]
            if _covers(rest, left):
                return True
    return False


@settings(max_examples=25)
@given(problems())
def test_spends_no_more_than_trying_everything(
    problem: tuple[list[Wanted], list[SheetOffer]],
) -> None:
    wanted, offers = problem
    least = least_by_trying(wanted, offers)
    if least is None:
        with pytest.raises(NoPlanError):
            plan_apart(wanted, offers)
        return
    plan = plan_apart(wanted, offers)
    check_covers(plan, wanted, offers)
    assert plan.spend == least


def test_the_same_problem_gives_the_same_plan() -> None:
    wanted = [Wanted("a", Piece("a", 50, 40), 77), Wanted("b", Piece("b", 31, 30), 101)]
    offers = [
        SheetOffer("s", Sheet("s", 180, 160), 5, (Break(1, 900), Break(3, 800))),
        SheetOffer("t", Sheet("t", 300, 230), 4, (Break(1, 1900),), value=Fraction(475)),
    ]
    assert plan_apart(wanted, offers) == plan_apart(wanted, offers)


def test_plain_rows_are_not_the_best_that_one_kind_alone_can_have() -> None:
    """Five pieces of 12 by 8 on 22 by 30, and four in rows: as the yields are tested."""
    wanted = [Wanted("a", Piece("a", 120, 80), 5)]
    offers = [SheetOffer("s", Sheet("s", 220, 300), 1, (Break(1, 5),))]
    assert plan_apart(wanted, offers).spend == 5
    assert plan_apart(wanted, offers, grids=True).spend == 10


TOO_LARGE = Wanted("large", Piece("large", 9_000, 9_000), 0)


def test_what_is_wanted_no_times_is_not_looked_at_and_what_is_wanted_once_is() -> None:
    wanted = [Wanted("folio", FOLIO, 1), TOO_LARGE]
    offers = [SheetOffer("buy", HALF, 1, (Break(1, 46),))]
    for plan in (plan_apart(wanted, offers), plan_batch(wanted, offers)):
        assert (plan.spend, plan.sheets) == (46, 1)
    known = [KnownLayout(use.layout, use.repeats) for use in plan_batch(wanted, offers).uses]
    again = plan_as_known(wanted, offers, KNIFE, known)
    assert again is not None
    assert (again.spend, again.sheets) == (46, 1)


# Each has a plan for as much money that cuts up more than plain rows do; it was found at random.
@pytest.mark.parametrize(
    ("kinds", "sheets", "spend", "worth"),
    [
        ([(6, 5, 3), (4, 7, 2)], [(19, 14, 8, 4), (17, 15, 4, 1)], 8, 4),
        ([(9, 9, 6), (3, 4, 2)], [(11, 19, 1, 2), (20, 18, 2, 4)], 2, Fraction(3, 2)),
        ([(7, 4, 3), (6, 6, 4)], [(18, 10, 1, 2), (12, 14, 2, 5)], 2, Fraction(4, 5)),
    ],
)
def test_for_as_much_money_no_more_is_cut_up_than_by_plain_rows(
    kinds: list[tuple[int, int, int]], sheets: list[tuple[int, int, int, int]], spend: int,
    worth: Fraction,
) -> None:  # fmt: skip
    wanted = [
        Wanted(f"p{i}", Piece(f"p{i}", w, h, may_turn=False), n)
        for i, (w, h, n) in enumerate(kinds)
    ]
    offers = [
        SheetOffer(
            f"s{i}", Sheet(f"s{i}", w, h), pack, (Break(1, price),), value=Fraction(price, pack)
        )
        for i, (w, h, price, pack) in enumerate(sheets)
    ]
    plan = plan_batch(wanted, offers, effort=50_000)
    rows = plan_apart(wanted, offers, grids=True)
    assert plan.spend == rows.spend == spend
    assert plan.worth_cut(offers) <= rows.worth_cut(offers) == worth


def test_nothing_wanted_costs_nothing_and_that_is_proved() -> None:
    for plan in (plan_apart([TOO_LARGE], []), plan_batch([TOO_LARGE], [])):
        assert (plan.spend, plan.bound, plan.uses, plan.bought) == (0, 0, (), ())
        assert (plan.steps, plan.rounds, plan.sheets, plan.cut_short) == (0, 0, 0, False)


def test_where_nothing_is_bought_worth_counts_and_not_the_number_of_sheets() -> None:
    """Two small sheets worth 3 each are cut rather than one worth 10."""
    wanted = [Wanted(key, Piece(key, 100, 100), 1) for key in ("a", "b")]
    offers = [
        SheetOffer("large", Sheet("large", 200, 100), on_hand=1, limit=0, value=Fraction(10)),
        SheetOffer("small", Sheet("small", 100, 100), on_hand=2, limit=0, value=Fraction(3)),
    ]
    plan = plan_batch(wanted, offers)
    assert sheets_cut(plan) == {"small": 2}
    assert plan.worth_cut(offers) == 6
    # Two small ones hold both kinds each; apart the kinds would take three, and there are two.
    mixed = [Wanted("a", Piece("a", 100, 60), 2), Wanted("b", Piece("b", 100, 40), 2)]
    plan = plan_batch(mixed, offers)
    assert (sheets_cut(plan), plan.worth_cut(offers)) == ({"small": 2}, 6)
    # Of two ways worth the same the one with fewer sheets is taken.
    alike = [replace(o, value=Fraction(6 if o.key == "large" else 3)) for o in offers]
    assert sheets_cut(plan_batch(wanted, alike)) == {"large": 1}
