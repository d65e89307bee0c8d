"""The year-end sheet: from the stock at the beginning to that at the end, and what was earned.

Every movement of the period is on one line of it, so opening stock and all lines are the closing
stock, which is worked out on its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from app.core.money import currency, rounded_together, to_minor
from app.core.states import CostKind, MovementKind
from app.dates import whole_day
from app.language import say, to_say
from app.memory import remembered
from app.models import Movement
from app.services.shop.settings import the_shop
from app.services.takings.account import PeriodAccount, Takings, account, takings
from app.services.takings.costs import by_kind
from app.services.takings.periods import Period
from app.services.takings.stock_value import Shelf, StockValue, stock_value


class Flow(StrEnum):
    """Why the stock was worth more or less at the end than at the beginning."""

    BOUGHT = to_say("Bought and received")
    WRITTEN_IN = to_say("There already, written in")
    WORK = to_say("Your hours and overhead put in at the bench")
    MADE = to_say("Made without a batch, as reckoned")
    COUNTED = to_say("More or less at counts")
    LOST = to_say("Lost at markets")
    SPOILED = to_say("Spoiled or no longer sound")
    SOLD = to_say("Cost of what was sold")
    UNDONE = to_say("Sales undone or put right in another period")
    CUT = to_say("Cut to offcuts")


@dataclass(frozen=True)
class YearEnd:
    """The sheet of a period; lines of money to the minor unit, that add up as they are shown."""

    period: Period
    opening: StockValue
    closing: StockValue
    stock_opening: Decimal
    stock_closing: Decimal
    flows: dict[Flow, Decimal]
    exact: dict[Flow, Fraction]
    earned: PeriodAccount
    costs: dict[CostKind, Decimal]
    by_month: Takings

    @property
    def ties_out(self) -> bool:
        """Whether opening stock and every line are the closing stock, exactly."""
        exact = sum(self.exact.values(), Fraction(0))
        return Fraction(self.opening.total) + exact == Fraction(self.closing.total)

    @property
    def gross(self) -> Decimal:
        """Sales without tax, less what was sold had cost."""
        total = self.earned.total
        return total.sales - total.tax - total.cost

    @property
    def differences(self) -> Decimal:
        """What counts, losses, spoilage and the rest took off the stock."""
        other = (Flow.COUNTED, Flow.LOST, Flow.SPOILED, Flow.UNDONE, Flow.CUT)
        return -sum((self.flows[flow] for flow in other), Decimal(0))

    @property
    def result(self) -> Decimal:
        """What the period earned: the maker's hours are no cost in it, as nobody was paid them."""
        earned = self.earned
        return (
            self.gross + earned.postage + earned.kept + self.flows[Flow.WORK]
            + self.flows[Flow.MADE] + earned.cash_off - earned.total.fees - earned.stalls
            - self.differences - earned.other
        )  # fmt: skip


@remembered
def _kind_and_cost(session: Session, period: Period) -> dict[Flow, Fraction]:
    """Every movement of a period on its line; what undoes another one is on that one's line."""
    undone = aliased(Movement)
    kind = func.coalesce(undone.kind, Movement.kind).label("why")
    batch = Movement.batch_id.is_not(None).label("of_batch")
    market = Movement.market_id.is_not(None).label("at_market")
    rows = session.execute(
        select(kind, batch, market, func.sum(Movement.cost))
        .outerjoin(undone, undone.id == Movement.reverses_id)
        .where(Movement.at >= period.begins, Movement.at < period.ends)
        .group_by("why", "of_batch", "at_market")
    )
    found = dict.fromkeys(Flow, Fraction(0))
    for why, of_batch, at_market, cost in rows:
        found[_flow(MovementKind(why), of_batch=of_batch, at_market=at_market)] += Fraction(cost)
    return found


PLAIN = {
    MovementKind.RECEIVED: Flow.BOUGHT, MovementKind.OPENING: Flow.WRITTEN_IN,
    MovementKind.MADE: Flow.MADE, MovementKind.SPOILED: Flow.SPOILED,
    MovementKind.SOLD: Flow.SOLD, MovementKind.RETURNED: Flow.SOLD,
}  # fmt: skip


def _flow(kind: MovementKind, *, of_batch: bool, at_market: bool) -> Flow:
    if of_batch:
        return Flow.WORK
    if kind == MovementKind.COUNTED:
        return Flow.LOST if at_market else Flow.COUNTED
    return PLAIN.get(kind, Flow.CUT)


def flows_of(session: Session, period: Period, grown: Decimal) -> dict[Flow, Fraction]:
    """Why the stock grew or shrank in a period, exactly; but what was sold and undone since.

    ``grown`` is by how much what lies in batches did: it has not left the stock.
    """
    exact = _kind_and_cost(session, period)
    exact[Flow.WORK] += Fraction(grown)
    return exact


def year_end(session: Session, period: Period) -> YearEnd:
    """The sheet of a period."""
    money = currency(the_shop(session).currency)
    before = period.first - timedelta(days=1)
    opening, closing = stock_value(session, before), stock_value(session, period.last)
    making = [value.by_shelf[Shelf.MAKING] for value in (opening, closing)]
    exact = flows_of(session, period, making[1] - making[0])
    found = takings(session, period, "month")
    earned = account(session, period, found.total)
    # What of the takings' cost of sales the stock has otherwise was undone in another period.
    taken = sum(found.exact_costs, Fraction(0))
    exact[Flow.UNDONE] = Fraction(exact[Flow.SOLD]) + taken
    exact[Flow.SOLD] = -taken
    shown = [to_minor(value.total, money) for value in (opening, closing)]
    flows = _shown(exact, -earned.total.cost, shown[1] - shown[0], money.step)
    return YearEnd(
        period, opening, closing, shown[0], shown[1], flows, exact, earned,
        by_kind(list(earned.costs)), found,
    )  # fmt: skip


def _shown(
    exact: dict[Flow, Fraction], sold: Decimal, total: Decimal, step: Decimal
) -> dict[Flow, Decimal]:
    """The lines as they are shown: the cost of sales as the takings have it, the others rounded
    together; where nothing happened nothing is shown."""
    rest = [flow for flow in Flow if flow != Flow.SOLD and exact[flow]]
    if not rest:
        rest = [Flow.UNDONE]
    amounts = rounded_together([exact[flow] for flow in rest], step, total - sold)
    zero = dict.fromkeys(Flow, step * 0)
    return zero | dict(zip(rest, amounts, strict=True)) | {Flow.SOLD: sold}


@dataclass(frozen=True)
class SheetLine:
    """A line of the sheet; a sum is what the lines above it come to."""

    says: str
    amount: Decimal
    is_sum: bool = False


def sheet_lines(sheet: YearEnd) -> list[tuple[str, list[SheetLine]]]:
    """The sheet in its two parts: the stock, and what was earned."""
    earned, total = sheet.earned, sheet.earned.total
    stock = [SheetLine(say("Stock on {day}", day=whole_day(sheet.opening.on)), sheet.stock_opening)]
    stock += [SheetLine(say(flow), amount) for flow, amount in sheet.flows.items() if amount]
    stock.append(
        SheetLine(
            say("Stock on {day}", day=whole_day(sheet.closing.on)), sheet.stock_closing, is_sum=True
        )
    )
    lines = [SheetLine(say("Sales"), total.sales)]
    if total.tax:
        lines.append(SheetLine(say("Tax in them"), -total.tax))
    lines += [
        SheetLine(say("Cost of what was sold"), -total.cost),
        SheetLine(say("Left after cost"), sheet.gross, is_sum=True),
        SheetLine(say("Your hours and overhead put in at the bench"), sheet.flows[Flow.WORK]),
    ]
    more = [
        (say("Made without a batch, as reckoned"), sheet.flows[Flow.MADE]),
        (say("Post paid by customers"), earned.postage), (say("Deposits kept"), earned.kept),
        (say("Cash boxes over or short"), earned.cash_off),
        (say("Fees"), -total.fees),
        (say("Stalls and getting there"), -earned.stalls),
        (say("Stock differences and losses"), -sheet.differences),
        *((say("Other: {what}", what=say(kind)), -amount) for kind, amount in sheet.costs.items()),
    ]  # fmt: skip
    lines += [SheetLine(says, amount) for says, amount in more if amount]
    lines.append(SheetLine(say("What the period earned for you"), sheet.result, is_sum=True))
    return [(to_say("Stock"), stock), (to_say("Earned"), lines)]
