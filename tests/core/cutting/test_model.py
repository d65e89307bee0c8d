"""Sheets that can be had: which can be bought, and what those that are cut are worth. By hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.core.cutting.model import Break, SheetOffer, supplies, worth_of
from app.core.paper import Sheet

SHEET, OTHER = Sheet("s", 200, 200), Sheet("t", 100, 100)
PRICE = (Break(1, 4),)


@pytest.mark.parametrize(
    ("offer", "bought"),
    [
        (SheetOffer("a", SHEET, 5, PRICE), True),
        (SheetOffer("a", SHEET, 5, PRICE, limit=5), True),
        (SheetOffer("a", SHEET, 5, PRICE, limit=4), False),
        (SheetOffer("a", SHEET, 5), False),
        (SheetOffer("a", SHEET, breaks=PRICE, limit=1), True),
    ],
)
def test_what_can_be_bought(offer: SheetOffer, bought: bool) -> None:
    [supply] = supplies([offer])
    assert supply.offers == ((offer,) if bought else ())


def test_offers_of_one_size_are_one_supply_at_the_least_worth() -> None:
    rows = [
        SheetOffer("a", SHEET, on_hand=2, value=Fraction(7, 2)),
        SheetOffer("b", SHEET, 5, PRICE, on_hand=3, value=Fraction(3)),
        SheetOffer("c", OTHER, on_hand=1),
    ]
    first, second = supplies(rows)
    assert (first.sheet, first.on_hand, first.offers) == (SHEET, 5, (rows[1],))
    assert first.value == 3
    assert (second.sheet, second.on_hand, second.value) == (OTHER, 1, 0)


def test_what_is_here_is_cut_first_and_what_is_bought_then() -> None:
    rows = [
        SheetOffer("a", SHEET, on_hand=2, value=Fraction(3)),
        SheetOffer("b", SHEET, 5, PRICE, value=Fraction(4)),
        SheetOffer("c", OTHER, on_hand=4),
    ]
    assert worth_of({SHEET: 1}, {}, rows) == 3
    assert worth_of({SHEET: 4}, {"b": 5}, rows) == 2 * 3 + 2 * 4
    # Nothing was bought, so no more than what is here can be cut; what has no worth counts none.
    assert worth_of({SHEET: 4, OTHER: 4}, {}, rows) == 6
