"""Before a market: what may be asked for, what to take in the hours that are left, the boxes."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.planning.capacity import Job, minutes_free
from app.core.selling.demand import PoissonDemand, ThreeGuesses
from app.core.states import PaidHow
from app.models import Market
from app.services.designs.journals import estimate
from app.services.markets import closing, markets, stall
from app.services.markets.demand import like_markets, may_be_asked
from app.services.markets.markets import Guess
from app.services.planning.market_list import MarketPlan, market_plan
from app.services.planning.requirements import needs, promised_to_others
from app.services.shop.settings import channels, the_shop
from app.services.stock import ledger as stock
from tests.conftest import DAY
from tests.factories import Bench
from tests.services.markets.test_stall import market_of, sell


@pytest.fixture
def bench(session: Session) -> Bench:
    return Bench(session)


def past(
    session: Session, bench: Bench, day: date, taken: int, sold: int, like: Market | None = None,
    given: int = 0, hours: int = 0, *, close: bool = True,
) -> Market:  # fmt: skip
    """A market that was: so many packed, sold and given away, the rest home again."""
    stock.receive(session, bench.variant, taken, Decimal(9) * taken, DAY)
    made = markets.save_market(
        session, None,
        {"name": f"Fair of {day}", "place": "", "day": day, "channel": channels(session)[0],
         "note": "", "stall_fee": Decimal(20), "travel": Decimal(0),
         "like_id": like.id if like else None, "open_minutes": Decimal(60 * hours)},
    )  # fmt: skip
    markets.set_take_list(session, made, {bench.variant.id: taken})
    for number, how in ((sold, PaidHow.CASH), (given, PaidHow.GIVEN)):
        if number:
            sell(session, made, bench.variant, number, how)
    if close:
        home = {bench.variant.id: taken - sold - given}
        closing.close_market(session, made, closing.Counted(home), DAY)
        stock.count(session, bench.variant, 0, DAY, "sold")
    return made


def ago(days: int) -> date:
    return DAY - timedelta(days=days)


def coming(session: Session, bench: Bench, take: int = 5, days: int = 30, **more: object) -> Market:
    market = bench.market(take=take, days=days)
    market.channel = channels(session)[0]
    for key, value in more.items():
        setattr(market, key, value)
    session.flush()
    return market


def plan_of(session: Session, bench: Bench, market: Market) -> MarketPlan:
    worked = {bench.variant.id: estimate(session, bench.variant, DAY)}
    return market_plan(session, market, [bench.variant], worked, markets.guesses_of(market), DAY)


def asked(session: Session, bench: Bench, market: Market):  # type: ignore[no-untyped-def]
    guesses = markets.guesses_of(market)
    like = like_markets(session, market)
    return may_be_asked(session, market, like, [bench.variant], guesses)[bench.variant.id]


def test_like_markets_are_those_linked_either_way(session: Session, bench: Bench) -> None:
    first = past(session, bench, ago(90), 3, 1)
    second = past(session, bench, ago(60), 3, 2, like=first)
    past(session, bench, ago(40), 3, 3)
    open_one = past(session, bench, ago(20), 3, 1, like=second, close=False)
    now = coming(session, bench, like_id=first.id)
    assert like_markets(session, now) == [second, first]
    assert open_one not in like_markets(session, now)
    assert like_markets(session, coming(session, bench)) == []


def test_what_ran_out_is_a_lower_bound(session: Session, bench: Bench) -> None:
    """O5: 3 5 4 2 6+ 6+ gives 4.724564, not 4.3333."""
    like: Market | None = None
    for n, (taken, sold) in enumerate([(8, 3), (8, 5), (8, 4), (8, 2), (6, 6), (6, 6)]):
        like = past(session, bench, ago(100 - n), taken, sold, like)
    found = asked(session, bench, coming(session, bench, like_id=like.id if like else None))
    assert not found.guessed
    assert found.demand == PoissonDemand(Fraction(4725, 1000))
    assert [(s.sold, s.packed, s.ran_out) for s in found.seen] == [
        (6, 6, True), (6, 6, True), (2, 8, False), (4, 8, False), (5, 8, False), (3, 8, False),
    ]  # fmt: skip
    assert found.learned is not None
    assert found.learned.low < found.demand.mean < found.learned.high


def test_what_was_given_away_was_asked_for_by_nobody(session: Session, bench: Bench) -> None:
    like = past(session, bench, ago(50), 6, 3, given=2)
    market = coming(session, bench, like_id=like.id)
    [seen] = asked(session, bench, market).seen
    assert (seen.sold, seen.packed, seen.ran_out) == (3, 4, False)


def test_what_was_given_away_last_was_there_for_whoever_asked(
    session: Session, bench: Bench
) -> None:
    """Four of five sold, the fifth given away after: it had not run out."""
    stock.receive(session, bench.variant, 5, Decimal(45), DAY)
    market = market_of(session, bench, here=0)
    sell(session, market, bench.variant, 4)
    stall.make_stroke(session, market, bench.variant, "1")
    later = datetime(2027, 3, 1, 15, tzinfo=UTC)
    stall.take_money(session, market, "1", PaidHow.GIVEN, later)
    closing.close_market(session, market, closing.Counted({bench.variant.id: 0}), DAY)
    [seen] = asked(session, bench, coming(session, bench, like_id=market.id)).seen
    assert (seen.sold, seen.packed, seen.ran_out) == (4, 5, False)


def test_hours_count_where_all_are_known(session: Session, bench: Bench) -> None:
    first = past(session, bench, ago(50), 9, 4, hours=4)
    second = past(session, bench, ago(40), 9, 4, like=first, hours=4)
    longer = coming(session, bench, like_id=second.id, open_minutes=Decimal(480))
    assert asked(session, bench, longer).demand == PoissonDemand(Fraction(8))
    unsaid = coming(session, bench, like_id=second.id)
    assert asked(session, bench, unsaid).demand == PoissonDemand(Fraction(4))


def test_a_guess_counts_before_what_was_learned(session: Session, bench: Bench) -> None:
    like = past(session, bench, ago(50), 6, 3)
    market = coming(session, bench, like_id=like.id)
    markets.set_guesses(session, market, {bench.variant.id: Guess(1, 2, 9)})
    found = asked(session, bench, market)
    assert (found.guessed, found.demand) == (True, ThreeGuesses(1, 2, 9))
    assert found.learned is not None
    markets.set_guesses(session, market, {bench.variant.id: None})
    assert not asked(session, bench, market).guessed
    with pytest.raises(DomainError, match="must rise") as caught:
        markets.set_guesses(session, market, {bench.variant.id: Guess(4, 2, 9)})
    assert caught.value.field == f"likely-{bench.variant.id}"


def test_nothing_but_sell_outs_says_what_is_not_known(session: Session, bench: Bench) -> None:
    like = past(session, bench, ago(50), 3, 3)
    market = coming(session, bench, like_id=like.id)
    found = plan_of(session, bench, market)
    assert found.things == {}
    assert "ran out each time" in found.why_not[bench.variant.id]
    fresh = coming(session, bench)
    assert plan_of(session, bench, fresh).why_not == {
        bench.variant.id: "Say how many may be asked for."
    }


def test_the_list_is_proposed_within_the_hours(session: Session, bench: Bench) -> None:
    market = coming(session, bench, take=2)
    markets.set_guesses(session, market, {bench.variant.id: Guess(4, 8, 12)})
    shop = the_shop(session)
    for day in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"):
        setattr(shop, day, 0)
    free = plan_of(session, bench, market)
    [thing] = free.things.values()
    assert free.minutes is None
    assert free.an_hour_more is None
    assert free.proposed == {bench.variant.id: thing.best}
    worked = estimate(session, bench.variant, DAY)
    outcome = worked.prices[0].at_asked
    assert outcome is not None
    own = worked.sheet.total("labour") + worked.sheet.total("overhead")
    assert thing.gain == outcome.profit + own
    assert thing.loss == Fraction(worked.sheet.total()) / 5
    assert thing.minutes == worked.sheet.minutes
    # A bench that has time for three of them, and two more on the shelf.
    shop.monday = int(3 * thing.minutes / 5) + 1
    stock.receive(session, bench.variant, 2, Decimal(18), DAY)
    mondays = sum(1 for n in range(30) if (DAY + timedelta(days=n)).weekday() == 0)
    some = plan_of(session, bench, market)
    assert some.minutes == shop.monday * mondays
    assert some.proposed[bench.variant.id] == 2 + int(some.minutes / thing.minutes)
    assert some.an_hour_more is not None
    assert some.an_hour_more > 0
    promised = some.promises({bench.variant.id: 5})
    assert promised.minutes == 3 * thing.minutes
    assert 0 < some.pays_for_itself({bench.variant.id: 5}) <= 1


def test_what_is_promised_to_others_is_not_there_for_it(session: Session, bench: Bench) -> None:
    market = coming(session, bench, take=2, days=30)
    markets.set_guesses(session, market, {bench.variant.id: Guess(4, 8, 12)})
    stock.receive(session, bench.variant, 5, Decimal(45), DAY)
    bench.agreed(quantity=3, days=20)
    bench.agreed(quantity=1, days=40)
    bench.market(take=7, days=50)
    assert promised_to_others(session, market, DAY) == {bench.variant.id: 4}
    assert plan_of(session, bench, market).things[bench.variant.id].here == 1


def test_the_organisers_share_lowers_what_one_brings(session: Session, bench: Bench) -> None:
    market = coming(session, bench)
    worked = estimate(session, bench.variant, DAY)
    before = markets.contribution(market, worked)
    market.fee_share = Decimal("0.1")
    after = markets.contribution(market, worked)
    assert before is not None
    assert after is not None
    assert before - after == Fraction(40) / 10
    assert markets.contribution(market, None) is None


def test_the_organisers_share_is_in_what_the_day_earned(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    market.fee_share = Decimal("0.125")
    sell(session, market, bench.variant, 2)
    found = closing.earned(session, market)
    assert found.share == 10
    assert found.over == 80 - found.tax - found.fees - found.materials - 10 - 30


def test_minutes_free_by_hand() -> None:
    """60 a day: five days before the 6th; 100 wanted by then, 250 more by the 8th."""
    day = date(2027, 3, 1)
    due = date(2027, 3, 6)
    sooner = Job("a", due, Fraction(100))
    later = Job("b", date(2027, 3, 8), Fraction(250))
    assert minutes_free([], lambda _: 60, day, due) == 300
    assert minutes_free([sooner], lambda _: 60, day, due) == 200
    assert minutes_free([sooner, later], lambda _: 60, day, due) == 420 - 350
    assert minutes_free([Job("c", due, Fraction(900))], lambda _: 60, day, due) == 0
    earlier = Job("d", date(2027, 3, 3), Fraction(110))
    assert minutes_free([earlier], lambda _: 60, day, due) == 190
    assert minutes_free([], lambda _: 60, due, day) == 0


def test_a_market_of_several_days(session: Session, bench: Bench) -> None:
    market = market_of(session, bench)
    values = {"name": "Long fair", "day": DAY, "last_day": DAY + timedelta(days=2)}
    markets.save_market(session, market, values)
    assert market.days == [DAY, DAY + timedelta(days=1), DAY + timedelta(days=2)]
    second = datetime.combine(DAY + timedelta(days=1), datetime.min.time(), UTC) + timedelta(
        hours=10
    )
    stall.make_stroke(session, market, bench.variant, "1")
    stall.take_money(session, market, "1", PaidHow.CASH, second)
    movement = stock.open_lots(session, bench.variant)
    assert movement
    assert markets.upcoming(session, DAY + timedelta(days=2)) == [market]
    assert markets.upcoming(session, DAY + timedelta(days=3)) == []
    with pytest.raises(DomainError, match="goes on until"):
        closing.close_market(session, market, closing.Counted({}), DAY + timedelta(days=1))
    # The day it sold on stays one of its days.
    with pytest.raises(DomainError, match="keeps those days"):
        markets.save_market(session, market, {"day": DAY, "last_day": None})
    with pytest.raises(DomainError, match="comes after the first"):
        markets.save_market(session, market, {"day": DAY, "last_day": ago(1)})
    with pytest.raises(DomainError, match="itself"):
        markets.save_market(session, market, {**values, "like_id": market.id})


def test_no_bench_while_the_market_is_on(session: Session, bench: Bench) -> None:
    market = coming(session, bench, last_day=DAY + timedelta(days=31))
    the_shop(session).monday = 100
    times = needs(session, DAY).times
    assert all(times.minutes_on(day) == 0 for day in market.days)


def test_boxes_hold_what_is_there(session: Session, bench: Bench) -> None:
    market = market_of(session, bench, take=5, here=3)
    with pytest.raises(DomainError, match="5 are to be taken and 3 are on the shelf") as caught:
        markets.pack(session, market, {bench.variant.id: 4})
    assert caught.value.field == f"packed-{bench.variant.id}"
    markets.pack(session, market, {bench.variant.id: 3})
    other = bench.market(take=4)
    with pytest.raises(DomainError, match="0 are on the shelf and in no other box"):
        markets.pack(session, other, {bench.variant.id: 1})
    [line] = market.lines
    assert line.packed == 3
    [row] = stall.stall_sheet(session, market, "1").rows
    assert row.left == 3
    sell(session, market, bench.variant, 2)
    [home] = closing.coming_home(session, market)
    assert (home.packed, home.sold, home.expected) == (3, 2, 1)


def test_what_was_packed_stays_so_whatever_is_sold_later(session: Session, bench: Bench) -> None:
    market = market_of(session, bench, take=5, here=6)
    sell(session, market, bench.variant, 2)
    closing.close_market(session, market, closing.Counted({bench.variant.id: 2}), DAY)
    stock.count(session, bench.variant, 0, DAY, "sold")
    [home] = closing.coming_home(session, market)
    assert (home.packed, home.sold, home.expected, home.home, home.lost) == (5, 2, 3, 2, 1)
