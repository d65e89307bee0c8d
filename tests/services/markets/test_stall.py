"""Selling at a stall and closing the day: nothing leaves that is not there, and all of it adds up."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.states import MovementKind, PaidHow
from app.models import Market, Movement, Sale, Variant
from app.services.bench.batches import begin_batch
from app.services.bench.finishing import finish_batch
from app.services.markets import closing, stall
from app.services.markets.markets import save_market, set_take_list, upcoming
from app.services.planning.requirements import needs, take_rows
from app.services.shop.settings import channels, the_shop
from app.services.stock import ledger as stock
from app.services.stock.ledger import item_key
from app.services.upkeep.checking import check_books
from tests.conftest import DAY, examples
from tests.factories import Bench

NOW = datetime(2027, 3, 1, 10, tzinfo=UTC)
PHONE = "1"


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def market_of(session: Session, bench: Bench, take: int = 5, here: int = 6) -> Market:
    """A market with the bench's journal at 40.00 on its list, and some on the shelf at 9.00."""
    if here:
        stock.receive(session, bench.variant, here, Decimal(9) * here, DAY)
    [channel, *_] = channels(session)
    values = {"name": "Quay fair", "place": "", "day": DAY, "channel": channel, "note": "",
              "stall_fee": Decimal(25), "travel": Decimal(5)}  # fmt: skip
    market = save_market(session, None, values)
    set_take_list(session, market, {bench.variant.id: take})
    return market


def sell(session: Session, market: Market, variant: Variant, quantity: int = 1,
         how: PaidHow = PaidHow.CASH, till: str = PHONE) -> Sale:  # fmt: skip
    for _ in range(quantity):
        stall.make_stroke(session, market, variant, till)
    return stall.take_money(session, market, till, how, NOW).sale


def test_a_stroke_is_kept_and_paid_it_leaves_the_shelf(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    stall.make_stroke(session, market, bench.variant, PHONE)
    stall.make_stroke(session, market, bench.variant, PHONE)
    [row] = stall.stall_sheet(session, market, PHONE).rows
    assert (row.price, row.paid, row.begun, row.left) == (40, 0, 2, 3)
    assert stock.on_hand(session, bench.variant) == 6
    paid = stall.take_money(session, market, PHONE, PaidHow.CASH, NOW, Decimal(100))
    assert (paid.sale.number, paid.sale.total, paid.back) == (1, 80, 20)
    sheet = stall.stall_sheet(session, market, PHONE)
    assert (sheet.pieces, sheet.taken, sheet.begun, sheet.last) == (2, 80, None, paid.sale)
    assert (sheet.rows[0].paid, sheet.rows[0].left) == (2, 3)
    assert stock.on_hand(session, bench.variant) == 4
    assert check_books(session) == []


def test_two_phones_have_a_sheet_each_and_one_shelf(session: Session, bench: Bench) -> None:
    market = market_of(session, bench, here=2)
    stall.make_stroke(session, market, bench.variant, "1")
    stall.make_stroke(session, market, bench.variant, "2")
    assert stall.begun_sale(session, market, "1") is not stall.begun_sale(session, market, "2")
    stall.take_money(session, market, "1", PaidHow.CASH, NOW)
    sell_it = session.begin_nested()
    stall.make_stroke(session, market, bench.variant, "1")
    stall.take_money(session, market, "1", PaidHow.CARD, NOW)
    with pytest.raises(DomainError, match="There is 0 here"):
        stall.take_money(session, market, "2", PaidHow.CARD, NOW)
    sell_it.rollback()
    stall.rub_out(session, market, bench.variant, "2")
    assert stall.begun_sale(session, market, "2") is None
    assert stock.on_hand(session, bench.variant) == 1


def test_what_is_not_there_cannot_be_sold(session: Session, bench: Bench) -> None:
    market = market_of(session, bench, take=9, here=1)
    stall.make_stroke(session, market, bench.variant, PHONE)
    with pytest.raises(DomainError, match="no other"):
        stall.make_stroke(session, market, bench.variant, PHONE)
    other = bench.begin("Other", leaf_height=150_000_000).current.variants[0]
    other.prices.clear()
    session.flush()
    with pytest.raises(DomainError, match="has no price here"):
        stall.make_stroke(session, market, other, PHONE)


def test_money_is_taken_for_what_is_begun(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    with pytest.raises(DomainError, match="touch what is sold first"):
        stall.take_money(session, market, PHONE, PaidHow.CASH, NOW)
    with pytest.raises(DomainError, match="no stroke"):
        stall.rub_out(session, market, bench.variant, PHONE)
    with pytest.raises(DomainError, match="No sale is begun"):
        stall.ask_other_prices(session, market, PHONE, {})
    sale = stall.make_stroke(session, market, bench.variant, PHONE)
    with pytest.raises(DomainError, match=r"39\.99 is less than"):
        stall.take_money(session, market, PHONE, PaidHow.CASH, NOW, Decimal("39.99"))
    stall.ask_other_prices(session, market, PHONE, {sale.lines[0].id: Decimal("35.50")})
    assert stall.take_money(session, market, PHONE, PaidHow.CARD, NOW).sale.total == Decimal(
        "35.50"
    )
    stall.make_stroke(session, market, bench.variant, PHONE)
    given = stall.take_money(session, market, PHONE, PaidHow.GIVEN, NOW).sale
    assert (given.number, given.total) == (2, 0)


def test_the_last_sale_is_undone_and_keeps_its_number(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    sell(session, market, bench.variant, 1)
    last = sell(session, market, bench.variant, 3)
    assert stall.undo_last(session, market, PHONE, NOW) is last
    assert stock.on_hand(session, bench.variant) == 5
    sheet = stall.stall_sheet(session, market, PHONE)
    assert (sheet.pieces, sheet.taken) == (1, 40)
    stall.undo_last(session, market, PHONE, NOW)
    with pytest.raises(DomainError, match="no sale to undo"):
        stall.undo_last(session, market, PHONE, NOW)
    assert sell(session, market, bench.variant).number == 3
    assert check_books(session) == []


def test_a_sale_is_undone_at_the_stall_and_nowhere_else(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    sell(session, market, bench.variant)
    [movement] = session.scalars(select(Movement).where(Movement.kind == MovementKind.SOLD))
    with pytest.raises(DomainError, match="on the market's page"):
        stock.reverse(session, movement, "mistake")


def test_what_is_sold_there_is_not_made_again(session: Session, bench: Bench) -> None:
    market = market_of(session, bench, take=5, here=5)
    assert not needs(session, DAY).to_make[item_key(bench.variant)].short
    sell(session, market, bench.variant, 3)
    assert not needs(session, DAY).to_make[item_key(bench.variant)].short
    row = take_rows(session, market, DAY)[bench.variant.id]
    assert (row.here, row.promised, row.to_make) == (2, 0, 0)
    closing.close_market(session, market, closing.Counted({}), DAY)
    assert upcoming(session, DAY) == []


def test_the_day_is_closed_and_every_figure_is_a_sum(session: Session, bench: Bench) -> None:
    shop = the_shop(session)
    shop.pay_per_hour, shop.overhead_a_year, shop.tax = Decimal(15), Decimal(0), Decimal("0.2")
    for thing, much in ((bench.sheet, 200), (bench.card_sheet, 60), (bench.thread, 10**12),
                        (bench.cord, 10**12), (bench.beads, 900)):  # fmt: skip
        stock.receive(session, thing, much, Decimal("77.77"), DAY)
    batch = begin_batch(session, {bench.variant: 8}, DAY)
    cost = finish_batch(session, batch, {}, Decimal(400), DAY)
    market = market_of(session, bench, take=8, here=0)
    market.channel.fee_rate, market.channel.fixed_fee = Decimal("0.02"), Decimal("0.10")
    sell(session, market, bench.variant, 2, PaidHow.CASH)
    sell(session, market, bench.variant, 1, PaidHow.CARD)
    sell(session, market, bench.variant, 1, PaidHow.GIVEN)
    found = closing.earned(session, market)
    assert (found.taken, found.pieces, found.for_nothing) == (120, 3, 1)
    assert found.by_how == {
        PaidHow.CASH: 80,
        PaidHow.CARD: 40,
        PaidHow.OTHER: 0,
        PaidHow.GIVEN: 0,
        PaidHow.SWAPPED: 0,
    }
    # 80.00 with 20% in it has 13.33 of tax, 40.00 has 6.67; 2% of the 40.00 by card and 0.10.
    assert (found.tax, found.fees, found.fees_billed) == (Decimal("20.00"), Decimal("0.90"), False)
    # Half of the batch went: half of its materials and of its 400 minutes.
    half = (cost.total - Decimal(100)) / 2
    assert abs(found.materials - half) <= Decimal("0.01")
    assert (found.bench_minutes, found.day) == (200, 30)
    closing.close_market(
        session, market,
        closing.Counted({bench.variant.id: 3}, Decimal(50), Decimal(129), Decimal("1.20"), Decimal(300), Decimal(100)),
        DAY,
    )  # fmt: skip
    done = closing.earned(session, market)
    assert (done.fees, done.fees_billed) == (Decimal("1.20"), True)
    assert done.lost == (cost.total / 8).quantize(Decimal("0.01"))
    # 50 at first and 80 in cash make 130; 129 was counted.
    assert done.cash_off == -1
    assert done.over == 120 - 20 - Decimal("1.20") - done.materials - done.lost - 30 - 1
    assert done.minutes == 600
    assert done.per_hour(2) == (done.over / 10).quantize(Decimal("0.01"))
    [home] = closing.coming_home(session, market)
    assert (home.packed, home.sold, home.expected, home.home, home.lost) == (8, 4, 4, 3, 1)
    assert stock.on_hand(session, bench.variant) == 3
    assert check_books(session) == []


def test_a_closed_market_is_opened_again(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    stall.make_stroke(session, market, bench.variant, PHONE)
    with pytest.raises(DomainError, match="begun and not paid"):
        closing.close_market(session, market, closing.Counted({}), DAY)
    stall.take_money(session, market, PHONE, PaidHow.CASH, NOW)
    with pytest.raises(DomainError, match="Between 0 and 4"):
        closing.close_market(session, market, closing.Counted({bench.variant.id: 5}), DAY)
    with pytest.raises(DomainError, match="This market goes on until"):
        closing.close_market(session, market, closing.Counted({}), DAY - timedelta(days=1))
    closing.close_market(session, market, closing.Counted({bench.variant.id: 2}), DAY)
    for do in (
        lambda: stall.make_stroke(session, market, bench.variant, PHONE),
        lambda: stall.undo_last(session, market, PHONE, NOW),
        lambda: closing.close_market(session, market, closing.Counted({}), DAY),
    ):
        with pytest.raises(DomainError, match="closed"):
            do()
    assert stock.on_hand(session, bench.variant) == 3
    closing.open_again(session, market)
    assert stock.on_hand(session, bench.variant) == 5
    assert closing.earned(session, market).lost == 0
    with pytest.raises(DomainError, match="is open"):
        closing.open_again(session, market)
    assert check_books(session) == []


def test_without_hours_no_hour_earned_anything(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    found = closing.earned(session, market)
    assert (found.taken, found.over, found.per_hour(2)) == (0, -30, None)


@settings(
    max_examples=examples(6),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(deeds=st.lists(st.tuples(st.sampled_from(["touch", "rub", "pay", "give", "undo", "close", "open"]),
                                st.sampled_from(["1", "2"])), max_size=40))  # fmt: skip
def test_whatever_is_touched_nothing_leaves_that_is_not_there(
    session: Session, bench: Bench, deeds: list[tuple[str, str]]
) -> None:
    with session.begin_nested() as kept:
        market = market_of(session, bench, take=4, here=5)
        hows = {"pay": PaidHow.CASH, "give": PaidHow.GIVEN}
        for deed, till in deeds:
            inner = session.begin_nested()
            try:
                if deed == "touch":
                    stall.make_stroke(session, market, bench.variant, till)
                elif deed == "rub":
                    stall.rub_out(session, market, bench.variant, till)
                elif deed in hows:
                    stall.take_money(session, market, till, hows[deed], NOW)
                elif deed == "undo":
                    stall.undo_last(session, market, till, NOW)
                elif deed == "close":
                    closing.close_market(
                        session, market, closing.Counted({bench.variant.id: 0}), DAY
                    )
                else:
                    closing.open_again(session, market)
            except DomainError:
                inner.rollback()
            else:
                inner.commit()
        sold = sum(sale.pieces for sale in stall.paid_sales(session, market))
        lost = closing.lost_at(session, market).get(bench.variant.id, 0)
        assert stock.on_hand(session, bench.variant) == 5 - sold - lost >= 0
        assert check_books(session) == []
        kept.rollback()


def test_sales_are_numbered_without_gaps(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    for _ in range(3):
        sell(session, market, bench.variant)
    assert list(session.scalars(select(Sale.number).order_by(Sale.number))) == [1, 2, 3]
    session.execute(Sale.__table__.update().where(Sale.number == 2).values(number=9))
    assert any("sale numbers" in line for line in check_books(session))


def questions(session: Session, market: Market) -> list[int]:
    """How often the database is asked for the sheet, for the boxes and for the account."""
    found, number = [], market.id
    for look in (
        lambda at: [r.variant.full_name for r in stall.stall_sheet(session, at, PHONE).rows],
        lambda at: [r.variant.full_name for r in closing.coming_home(session, at)],
        lambda at: closing.earned(session, at),
    ):
        session.expunge_all()
        at = session.get_one(Market, number)
        asked: list[str] = []

        def note(*seen: object, asked: list[str] = asked) -> None:
            asked.append(str(seen[2]))

        engine = session.get_bind()
        event.listen(engine, "before_cursor_execute", note)
        look(at)
        event.remove(engine, "before_cursor_execute", note)
        found.append(len(asked))
    return found


def test_more_journals_are_no_more_questions(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    sell(session, market, bench.variant)
    stall.make_stroke(session, market, bench.variant, PHONE)
    few = questions(session, market)
    market = session.get_one(Market, market.id)
    for number in range(5):
        other = bench.begin(f"Other {number}", leaf_height=150_000_000).current.variants[0]
        stock.receive(session, other, 4, Decimal(36), DAY)
        lines = {line.variant_id: line.take for line in market.lines}
        set_take_list(session, market, {**lines, other.id: 3})
        sell(session, market, other, till="2")
        stall.make_stroke(session, market, other, PHONE)
    assert questions(session, market) == few
