"""What is refused before any planning: a piece for no sheet, more than can be had. By hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.core.cutting.many_sheets.possible import check_enough, check_wanted
from app.core.cutting.model import MOST_SHEETS, Break, NoPlanError, SheetOffer, Wanted
from app.core.cutting.one_sheet.yields import Yield, yield_of
from app.core.length import MM
from app.core.paper import Piece, Sheet


def wanted(width: int, height: int, count: int, name: str = "p") -> Wanted:
    return Wanted(name, Piece(name, width * MM, height * MM), count)


def offer(
    width: int, height: int, here: int = 0, *, pack: int = 1, most: int | None = 0, name: str = "s"
) -> SheetOffer:
    """``most`` sheets can be bought in such packs, None for as many as one likes, 0 for none."""
    breaks = () if most == 0 else (Break(1, 7),)
    sheet = Sheet(name, width * MM, height * MM)
    return SheetOffer(name, sheet, pack, breaks, on_hand=here, limit=most, value=Fraction(7))


def yields(kinds: list[Wanted], offers: list[SheetOffer]) -> dict[tuple[str, str], Yield]:
    return {(w.key, o.key): yield_of(w.piece, o.sheet) for w in kinds for o in offers}


def enough(kinds: list[Wanted], offers: list[SheetOffer]) -> bool:
    try:
        check_enough(kinds, offers, yields(kinds, offers))
    except NoPlanError:
        return False
    return True


def test_a_piece_has_to_fit_on_one_of_the_sheets() -> None:
    kind = wanted(90, 90, 1)
    small, large = offer(80, 100), offer(100, 100, name="l")
    found = yields([kind], [small, large])
    check_wanted(kind, list(found.values()))
    with pytest.raises(NoPlanError, match="“p” fits on none of the sheets"):
        check_wanted(kind, [found["p", "s"]])
    with pytest.raises(NoPlanError, match="“p” fits on none of the sheets"):
        check_wanted(kind, [])


def test_a_million_pieces_are_a_list_and_one_more_is_not() -> None:
    sheet = offer(100, 100)
    for count, refused in ((MOST_SHEETS, False), (MOST_SHEETS + 1, True)):
        kind = wanted(50, 50, count)
        found = list(yields([kind], [sheet]).values())
        if refused:
            with pytest.raises(NoPlanError, match="“p” is wanted more than a million times"):
                check_wanted(kind, found)
        else:
            check_wanted(kind, found)


@pytest.mark.parametrize(
    ("count", "here", "pack", "most", "is_enough"),
    [
        # Four of 50 by 50 are the whole of a sheet of 100 by 100.
        (8, 2, 1, 0, True), (9, 2, 1, 0, False), (12, 2, 1, 1, True), (13, 2, 1, 1, False),
        (1_000, 0, 1, None, True), (1, 0, 1, 0, False), (1, 1, 1, 0, True),
        # Of seven that may be bought in packs of three, two packs can be; of two none.
        (24, 0, 3, 7, True), (25, 0, 3, 7, False), (1, 0, 3, 2, False), (4, 1, 3, 2, True),
    ],
)  # fmt: skip
def test_area_shows_a_list_to_be_too_long(
    count: int, here: int, pack: int, most: int | None, *, is_enough: bool
) -> None:
    sheet = offer(100, 100, here, pack=pack, most=most)
    assert enough([wanted(50, 50, count)], [sheet]) is is_enough


def test_areas_of_all_kinds_and_sheets_are_added() -> None:
    kinds = [wanted(50, 100, 3, "a"), wanted(20, 100, 5, "b")]
    assert enough(kinds, [offer(100, 100, 2), offer(50, 100, 1, name="t")])
    assert not enough(kinds, [offer(100, 100, 2), offer(49, 100, 1, name="t")])
    # What one sheet has too much of leaves nothing to ask of another.
    assert enough(kinds, [offer(100, 100, 9), offer(50, 100, most=None, name="t")])


def test_one_kind_alone_shows_that_no_sheet_for_it_can_be_had() -> None:
    kinds = [wanted(90, 90, 1, "a"), wanted(10, 10, 1, "b")]
    small = offer(80, 80, 50, name="t")
    assert not enough(kinds, [offer(100, 100), small])
    assert enough(kinds, [offer(100, 100, 1), small])
    assert enough(kinds, [offer(100, 100, most=None), small])
