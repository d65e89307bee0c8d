"""What first batches of a journal take until the hand knows it, by Crawford's learning curve."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.costing import standard_time
from app.core.learning_curve import by_the_unit, slope_of
from app.core.money import half_up, to_minor
from app.core.states import BatchState
from app.models import Batch, BatchLine, Design, Variant
from app.services.designs.estimating import Estimate
from app.services.shop.settings import rates

TENTH = Decimal("0.1")
USUAL_RATE = Decimal("0.85")
PRACTISED = 24
"""After so many the hand is as quick as the shop's times have it, unless the maker knows better."""


@dataclass(frozen=True)
class FirstBatch:
    """So many made when ``before`` were made already: minutes and money, practised and not.

    Minutes are at the bench with setting up; ``milestones`` are numbers and the minutes of each.
    """

    count: int
    before: int
    standard: Decimal
    minutes: Decimal
    more_cost: Decimal
    each_standard: Decimal
    each: Decimal
    milestones: tuple[tuple[int, Decimal], ...]

    @property
    def more(self) -> Decimal:
        """Minutes that practice would save."""
        return self.minutes - self.standard


def made_so_far(session: Session, variant: Variant) -> int:
    """How many of a journal, in any design and colour, came out of batches."""
    return int(
        session.scalar(
            select(func.coalesce(func.sum(BatchLine.good + BatchLine.spoiled), 0))
            .join(Batch, Batch.id == BatchLine.batch_id)
            .join(Variant, Variant.id == BatchLine.variant_id)
            .join(Design, Design.id == Variant.design_id)
            .where(
                Batch.state != BatchState.CANCELLED,
                Design.journal_id == variant.design.journal_id,
            )
        )
        or 0
    )  # fmt: skip


def first_batch(worked: Estimate, rate: Decimal, practised: int, before: int) -> FirstBatch:
    """A batch as large as the estimate's, where the hand is practised after so many of them.

    The n-th takes the shop's time for each × (n / practised) ** slope, and never less than that
    time. Setting up is as ever.
    """
    normal = sum((job.count * job.minutes_each for job in worked.work), Fraction(0))
    each = _decimal(standard_time(normal, worked.allowance))
    first = each / Decimal(practised) ** slope_of(rate)

    def takes(number: int) -> Decimal:
        return max(by_the_unit(first, rate, number), each) if number < practised else each

    numbers = range(before + 1, before + worked.batch + 1)
    # Beyond practice nothing is slow any more, however many there are.
    slow = sum((takes(n) - each for n in numbers[: max(practised - before, 0)]), Decimal(0))
    standard = half_up(worked.minutes_for(worked.batch), TENTH)
    minutes = standard + half_up(slow, TENTH)
    hour = rates(worked.shop)
    an_hour = hour.pay_per_hour + hour.overhead_per_hour
    more_cost = to_minor(Fraction(minutes - standard) / 60 * an_hour, worked.currency)
    one = worked.sheet.total()
    shown = [n for n in (1, 2, 4, 8, 16, 32, 64, 128) if n < practised] + [practised]
    return FirstBatch(
        worked.batch, before, standard, minutes, more_cost, one,
        to_minor(Fraction(one) + Fraction(more_cost) / worked.batch, worked.currency),
        tuple((n, half_up(takes(n), TENTH)) for n in shown),
    )  # fmt: skip


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)
