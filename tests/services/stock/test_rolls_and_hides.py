"""Cloth off a roll and leather by the hide: from what is bought to what is left, all accounted."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.cutting.effort import Effort
from app.core.errors import DomainError
from app.core.length import METRE, MM
from app.core.planning.paper_answer import answer_paper
from app.core.states import SheetKind
from app.documents.tables import Table
from app.models import StockSheet
from app.services.bench import batches
from app.services.bench.batch_supply import ShortError, what_it_takes
from app.services.bench.cut_papers import cut_papers
from app.services.designs import journals
from app.services.designs.journals import estimate
from app.services.designs.price_book import read_prices
from app.services.exchange.exporting import LISTS
from app.services.exchange.importing import KINDS, matched, take_in
from app.services.planning.from_the_shelf import makeable, pile_of
from app.services.planning.paper_problems import WhatIf, paper_question
from app.services.planning.requirements import batch_needs
from app.services.planning.sheet_sources import offcut_as_sheet
from app.services.purchasing import purchases
from app.services.purchasing.buy_list import buy_list
from app.services.shop.settings import the_shop
from app.services.stock import ledger as stock
from app.services.stock import offcuts
from app.services.stock.materials import save_stock_sheet
from app.services.upkeep.checking import check_books
from app.units import M2, SQUARE_FOOT
from tests.conftest import DAY, memory_shop
from tests.factories import Bench, offer, paper


class Cloth(Bench):
    """A shop whose covers are of cloth, 1400 mm wide, in half metres at 9.00."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        stock.receive(session, self.sheet, 40, Decimal("32.00"), DAY)
        for item in (self.thread, self.cord):
            stock.receive(session, item, 50 * METRE, Decimal(5), DAY)
        stock.receive(session, self.beads, 300, Decimal(30), DAY)
        self.cloth = paper(session, "Canvas, natural", caliper_nm=400_000)
        self.roll = roll(session, self.cloth)
        offer(session, self.roll, "9", 500 * MM)
        draft = self.draft()
        self.card_covers = self.variant
        self.variant = journals.begin_journal(
            session, "Cloth journal",
            replace(draft, choices={**draft.choices, "cover": self.cloth}),
        ).current.variants[0]  # fmt: skip

    @property
    def cover(self) -> tuple[int, int]:
        """Width and height of a cover."""
        found = estimate(self.session, self.variant, DAY)
        [role] = [r for r in found.papers if r.role.key == "cover"]
        return role.piece.width_nm, role.piece.height_nm


def roll(session: Session, of: object, width: int = 1400, grain: str | None = None) -> StockSheet:
    values = {"kind": SheetKind.ROLL, "width_nm": width * MM, "grain": grain, "trim_nm": 0}
    return save_stock_sheet(session, of, None, values)  # type: ignore[arg-type]


@pytest.fixture
def shop(session: Session) -> Cloth:
    return Cloth(session)


def least_length(shop: Cloth, number: int) -> int:
    """The least length for so many covers in rows of one height each, tried by hand."""
    wide, high = shop.cover
    across, down = 1400 * MM // wide, 1400 * MM // high
    return min(
        a * high + (-(-max(number - a * across, 0) // down)) * wide
        for a in range(-(-number // across) + 1)
    )


def test_a_row_of_a_roll_is_what_a_cover_costs(session: Session, shop: Cloth) -> None:
    found = estimate(session, shop.variant, DAY)
    [role] = [r for r in found.papers if r.role.key == "cover"]
    wide, high = shop.cover
    each = min(
        Fraction(high, 1400 * MM // wide), Fraction(wide, 1400 * MM // high)
    ) * Fraction(900, 500 * MM)  # fmt: skip
    assert role.chosen is not None
    assert role.chosen.each == each / 100
    [line] = [x for x in found.sheet.lines if x.label == "Cover, Canvas, natural"]
    assert "of a roll 1400 mm wide" in line.basis
    assert abs(Fraction(line.amount) - each / 100) <= Fraction(1, 200)


def test_bought_in_one_length_cut_and_the_rest_stays(session: Session, shop: Cloth) -> None:
    batch_of = 7
    found = what_it_takes(session, {shop.variant: batch_of}, DAY)
    [short] = found.shorts
    [(_, wanted)] = [(n, n.count) for n in found.needs.pieces if n.paper is shop.cloth]
    need = least_length(shop, wanted)
    assert (short.item, short.short) == (shop.roll, need)
    shop.agreed(batch_of, variant=shop.variant)
    [line] = [x for x in buy_list(session, DAY).lines if x.item is shop.roll]
    assert line.packs == -(-need // (500 * MM))
    assert line.cost == 9 * line.packs
    [draft] = [
        p for p in purchases.draft_buy_list(session, buy_list(session, DAY))
        if any(x.stock_sheet is shop.roll for x in p.lines)
    ]  # fmt: skip
    # What is drafted counts, and is enough.
    assert not [x for x in buy_list(session, DAY).lines if x.item is shop.roll]
    purchases.send_purchase(session, draft, DAY)
    purchases.receive_purchase(
        session, draft, {x.id: x.packs for x in draft.lines}, Decimal(0), DAY
    )
    [length] = offcuts.lengths(session, shop.roll)
    assert (length.quantity, length.cost) == (line.packs * 500 * MM, line.cost)
    batch = batches.begin_batch(session, {shop.variant: batch_of}, DAY)
    [left] = offcuts.lengths(session, shop.roll)
    assert left.quantity == length.quantity - need
    # The rest of the roll keeps its whole share of the cost.
    assert abs(left.cost - length.cost * left.quantity / length.quantity) < Decimal("0.001")
    assert check_books(session) == []
    [cut] = [c for c in cut_papers(session, batch) if c.paper is shop.cloth]
    [layout] = cut.layouts
    assert (layout.layout.height_nm, layout.repeats) == (need, 1)
    assert cut.what(layout.layout) == "length"
    batches.cancel_batch(session, batch)
    [again] = offcuts.lengths(session, shop.roll)
    assert (again.quantity, again.cost) == (length.quantity, length.cost)
    assert check_books(session) == []


def test_a_bolt_is_cut_no_longer_than_it_takes(session: Session, shop: Cloth) -> None:
    stock.receive(session, shop.roll, 30 * METRE, Decimal("540.00"), DAY)
    stock.receive(session, shop.roll, 200 * MM, Decimal("3.60"), DAY)
    taking = what_it_takes(session, {shop.variant: 5}, DAY)
    assert taking.feasible
    batches.begin_batch(session, {shop.variant: 5}, DAY)
    left = sorted(row.quantity for row in offcuts.lengths(session, shop.roll))
    assert sum(left) == 30_200 * MM - least_length(
        shop, next(n.count for n in taking.needs.pieces if n.paper is shop.cloth)
    )
    assert check_books(session) == []


def test_lengths_are_not_one_length(session: Session, shop: Cloth) -> None:
    high = min(shop.cover)
    for _ in range(40):
        stock.receive(session, shop.roll, high - MM, Decimal(1), DAY)
    with pytest.raises(ShortError):
        batches.begin_batch(session, {shop.variant: 1}, DAY)


def test_counting_and_cutting_off(session: Session, shop: Cloth) -> None:
    lot = stock.receive(session, shop.roll, 2 * METRE, Decimal("36.00"), DAY)
    assert offcuts.cut_off(session, lot, METRE // 2, "spoiled") == Decimal("9.0000")
    assert stock.on_hand(session, shop.roll) == 1500 * MM
    for much, why, field in ((0, "spoiled", "much"), (3 * METRE, "spoiled", "much"),
                             (MM, " ", "gone")):  # fmt: skip
        with pytest.raises(DomainError) as refused:
            offcuts.cut_off(session, lot, much, why)
        assert refused.value.field == field
    stock.count(session, shop.roll, 1400 * MM, DAY, "spoiled")
    [left] = offcuts.lengths(session, shop.roll)
    assert (left.quantity, left.cost) == (1400 * MM, Decimal("25.2000"))
    other = stock.receive(session, shop.sheet, 1, Decimal(1), DAY)
    with pytest.raises(DomainError):
        offcuts.cut_off(session, other, 1, "spoiled")
    with pytest.raises(DomainError):
        offcuts.keep_offcuts(
            session, shop.roll, sheets_cut=1, width_nm=MM, height_nm=MM, quantity=1, on=DAY
        )
    assert check_books(session) == []


def test_each_length_goes_out_at_its_own_cost_whatever_the_valuation(
    session: Session, shop: Cloth
) -> None:
    the_shop(session).valuation = "average"
    stock.receive(session, shop.roll, METRE, Decimal(10), DAY)
    dear = stock.receive(session, shop.roll, METRE, Decimal(30), DAY)
    stock.count(session, shop.roll, 1500 * MM, DAY, "spoiled")
    assert [row.cost for row in offcuts.lengths(session, shop.roll)] == [Decimal(5), Decimal(30)]
    assert stock.take_from(session, dear, METRE, stock.MovementKind.ISSUED).cost == -30
    assert check_books(session) == []


def test_what_to_make_of_lengths(session: Session, shop: Cloth) -> None:
    wide, high = shop.cover
    stock.receive(session, shop.roll, 3 * METRE, Decimal(54), DAY)
    stock.receive(session, shop.roll, min(wide, high) - MM, Decimal(1), DAY)
    book = read_prices(session, DAY)
    found = {m.variant: m for m in makeable(session, book, pile_of(session, shop.roll))}
    mine = found[shop.variant]
    n, h = max(
        ((1400 * MM // w, h) for w, h in ((wide, high), (high, wide))),
        key=lambda way: Fraction(way[0], way[1]),
    )
    assert mine.from_sheet == Fraction(METRE * n, h)
    assert mine.number == 3 * METRE // h * n
    assert mine.number < 3 * METRE * 1400 * MM // (wide * high) + 1


def test_what_it_is_bought_as_stays_where_there_is_some(session: Session, shop: Cloth) -> None:
    as_sheet = {"width_nm": 1400 * MM, "height_nm": METRE, "grain": None, "trim_nm": 0}
    with pytest.raises(DomainError) as refused:
        save_stock_sheet(session, shop.cloth, shop.roll, as_sheet)
    assert refused.value.field == "kind"
    with pytest.raises(DomainError):
        roll(session, shop.cloth)
    fresh = roll(session, shop.cloth, 900)
    save_stock_sheet(session, shop.cloth, fresh, as_sheet | {"width_nm": 900 * MM})
    assert (fresh.kind, fresh.height_nm) == (SheetKind.SHEET, METRE)


def hide(session: Session, of: object, feet: int = 9, usable: str = "0.7", wide: int = 400,
         high: int = 600) -> StockSheet:  # fmt: skip
    values = {
        "kind": SheetKind.HIDE, "width_nm": wide * MM, "height_nm": high * MM, "grain": None,
        "trim_nm": 0, "hide_area": feet * SQUARE_FOOT, "usable": Decimal(usable),
    }  # fmt: skip
    return save_stock_sheet(session, of, None, values)  # type: ignore[arg-type]


def test_a_hide_counts_as_the_area_of_it_that_can_be_used(session: Session) -> None:
    """One square foot is 9.290304 dm², exactly; merchants reckon with 70% of a skin."""
    skin = hide(session, paper(session, "Goatskin"))
    usable = Fraction(7, 10) * 9 * SQUARE_FOOT
    assert skin.width_nm * skin.height_nm <= usable * 10**6 < skin.width_nm * (skin.height_nm + 1)
    assert skin.reach_nm == 600 * MM
    assert Fraction(9 * SQUARE_FOOT, M2) == Fraction("0.83612736")
    # Merchants: to net 100 at 70% takes 142.857, at 50% takes 200.
    for share, gross in (("0.7", Fraction(1000, 7)), ("0.5", Fraction(200))):
        assert 100 / Fraction(share) == gross


def test_pieces_of_a_hide_by_area_and_none_longer_than_its_largest(session: Session) -> None:
    bench = Bench(session)
    skin = paper(session, "Goatskin", caliper_nm=900_000)
    of_skin = hide(session, skin, wide=300, high=500)
    offer(session, of_skin, "54", 1)
    draft = bench.draft()
    made = journals.begin_journal(
        session, "Skin journal",
        replace(draft, choices={**draft.choices, "cover": skin}),
    ).current.variants[0]  # fmt: skip
    [role] = [r for r in estimate(session, made, DAY).papers if r.role.key == "cover"]
    sides = sorted((role.piece.width_nm, role.piece.height_nm))
    if sides[1] <= 500 * MM and sides[0] <= 300 * MM:
        assert role.chosen is not None
        area = sides[0] * sides[1]
        assert 1 <= role.chosen.cut.best <= of_skin.width_nm * of_skin.height_nm // area
    small = save_stock_sheet(
        session, skin, of_skin,
        {"kind": SheetKind.HIDE, "width_nm": 300 * MM, "height_nm": 300 * MM, "grain": None,
         "trim_nm": 0, "hide_area": 9 * SQUARE_FOOT, "usable": Decimal("0.7")},
    )  # fmt: skip
    assert small.height_nm > sides[1]
    [again] = [r for r in estimate(session, made, DAY).papers if r.role.key == "cover"]
    assert again.problem is not None
    assert "gives none larger than 300 × 300 mm" in again.problem


def test_a_hide_that_cannot_be_is_refused_at_its_field(session: Session) -> None:
    skin = paper(session, "Calf")
    for more, field in (
        ({"usable": "0"}, "usable"), ({"usable": "1.01"}, "usable"),
        ({"wide": 900, "high": 900}, "width_nm"),
    ):  # fmt: skip
        with pytest.raises(DomainError) as refused:
            hide(session, skin, **more)  # type: ignore[arg-type]
        assert refused.value.field == field


def test_hides_are_counted_and_their_offcuts_keep_the_limit(session: Session) -> None:
    skin = paper(session, "Goatskin")
    of_skin = hide(session, skin)
    stock.receive(session, of_skin, 2, Decimal(108), DAY)
    lot = offcuts.keep_offcuts(
        session, of_skin, sheets_cut=1, width_nm=300 * MM, height_nm=400 * MM, quantity=1, on=DAY
    )
    assert stock.on_hand(session, of_skin) == 1
    [kept] = offcuts.offcuts(session, of_skin)
    assert kept.lot is lot
    # 300 × 400 of a piece that is 600 at the most: nothing longer comes out of it.
    assert offcut_as_sheet(kept, "mm").reach_nm == 600 * MM
    assert check_books(session) == []


def test_rolls_and_hides_go_out_and_come_in_again(
    session: Session, shop: Cloth, empty_template: Path
) -> None:
    hide(session, paper(session, "Goatskin"))
    stock.receive(session, shop.roll, 1500 * MM, Decimal(27), DAY)
    table = LISTS["papers"](session, DAY)
    by_name = {(row[0], row[5]): row for row in table.rows}
    cloth = by_name["Canvas, natural", "roll"]
    assert dict(zip(table.heads, cloth, strict=True))["In stock"] == "1.5 m"
    skin = dict(zip(table.heads, by_name["Goatskin", "600 mm"], strict=True))
    assert (skin["Width"], skin["Usable, %"]) == ("400 mm", "70")
    with memory_shop(empty_template) as fresh:
        taken = take_in(fresh, KINDS["papers"], as_typed(table), in_place(table), DAY)
        assert (taken.refused, taken.kept) == ((), True)
        again = LISTS["papers"](fresh, DAY)
        here = table.heads.index("In stock")
        assert [row[:here] for row in again.rows] == [row[:here] for row in table.rows]
        rows = (
            ("Canvas, natural", "1400 mm", "roll", "1.5 m", "27"),
            ("Goatskin", "400 mm", "600 mm", "2", "108"),
            ("Goatskin", "400 mm", "roll", "2", "108"),
        )
        heads = ("Thing", "Width", "Height", "Quantity", "Cost")
        stocked = Table("stock", heads, rows)
        came = take_in(fresh, KINDS["stock"], stocked, in_place(stocked, "stock"), DAY)
        assert (came.taken, [bad.row for bad in came.refused]) == (2, [4])
        [length] = offcuts.lengths(fresh)
        assert length.quantity == 1500 * MM
        assert check_books(fresh) == []


def as_typed(table: Table) -> Table:
    """A table as a spreadsheet gives it back."""
    return Table(table.name, table.heads, tuple(tuple(map(str, row)) for row in table.rows))


def in_place(table: Table, kind: str = "papers") -> dict[str, int | None]:
    return matched(KINDS[kind], table.heads)


@pytest.mark.parametrize(
    ("height", "hide_of", "usable", "says"),
    [
        ("roll", "9 sq ft", "70", "comes off no roll"), ("600 mm", "9 sq ft", "", "usable|used"),
        ("600 mm", "9 kg", "70", "unit of area"), ("Roll", "", "", ""),
    ],
)  # fmt: skip
def test_rows_of_rolls_and_hides_say_why_they_are_refused(
    session: Session, height: str, hide_of: str, usable: str, says: str
) -> None:
    heads = ("Paper", "g/m²", "Thickness", "Width", "Height", "Hide", "Usable, %")
    table = Table("papers", heads, (("Skin", "700", "1 mm", "400 mm", height, hide_of, usable),))
    taken = take_in(session, KINDS["papers"], table, in_place(table), DAY)
    if not says:
        assert taken.refused == ()
        assert session.scalars(select(StockSheet)).one().by_length
        return
    [refused] = taken.refused
    assert any(word in refused.why for word in says.split("|"))


def test_supposing_trims_and_sizes_left_out_does_for_rolls(session: Session, shop: Cloth) -> None:
    found = batch_needs(session, DAY, {shop.variant: 5})
    rows = [n for n in found.pieces if n.paper is shop.cloth]
    for suppose, more in ((WhatIf(), 0), (WhatIf(trim_nm=20 * MM), 40 * MM)):
        asked = paper_question(found, rows, DAY, Effort.LIVE, suppose=suppose)
        answer = answer_paper(asked.problem)
        [(length, _packs)] = answer.lengths.values()
        used = max(p.y_nm + p.height_nm for p in answer.plan.uses[0].layout.pieces)
        assert used + more // 2 <= length
        assert answer.plan.uses[0].layout.trim_nm == more // 2
    with pytest.raises(DomainError):
        paper_question(found, rows, DAY, Effort.LIVE, suppose=WhatIf(trim_nm=700 * MM))
    without = WhatIf(without_sheets=frozenset({shop.roll.id}))
    assert paper_question(found, rows, DAY, Effort.LIVE, suppose=without).problem.sources == ()


def test_an_offcut_of_a_hide_is_no_longer_than_its_largest_piece(session: Session) -> None:
    bench = Cloth(session)
    skin = paper(session, "Goatskin", caliper_nm=900_000)
    of_skin = hide(session, skin)
    stock.receive(session, of_skin, 2, Decimal(108), DAY)
    draft = bench.draft()
    made = journals.begin_journal(
        session, "Skin journal", replace(draft, choices={**draft.choices, "cover": skin})
    ).current.variants[0]
    batch = batches.begin_batch(session, {made: 1}, DAY)
    kept = offcuts.offcuts(session, of_skin)
    assert kept
    assert all(row.sides[1] <= 600 * MM for row in kept)
    [cut] = [c for c in cut_papers(session, batch) if c.paper is skin]
    [layout] = cut.layouts
    assert cut.what(layout.layout) == "hide"
    shown = {cut.size(layout.layout, part) for part in cut.offcuts(layout.layout)}
    assert shown == {row.sides for row in kept}
    assert check_books(session) == []


def test_a_roll_is_sold_by_no_less_than_a_centimetre(session: Session, shop: Cloth) -> None:
    with pytest.raises(DomainError) as refused:
        offer(session, shop.roll, "1", MM, by=shop.roll.offers[0].supplier)
    assert refused.value.field == "pack_quantity"


def test_a_long_bolt_and_many_orders_still_have_a_list(session: Session, shop: Cloth) -> None:
    offer(session, shop.roll, "300", 30 * METRE, by=shop.roll.offers[0].supplier)
    for _ in range(8):
        shop.agreed(100, variant=shop.variant)
    [line] = [x for x in buy_list(session, DAY).lines if x.item is shop.roll]
    assert line.quantity >= least_length(shop, 800) * 9 // 10


def test_offcuts_of_a_roll_do_for_a_journal(session: Session, shop: Cloth) -> None:
    wide, high = shop.cover
    stock.receive(session, shop.roll, 3, Decimal(9), DAY, offcut_nm=(wide + MM, high + MM))
    book = read_prices(session, DAY)
    [mine] = [
        m for m in makeable(session, book, pile_of(session, shop.roll)) if m.variant is shop.variant
    ]
    assert mine.number == 3
