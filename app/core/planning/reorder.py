"""When to order again and how much: reorder levels, safety stock, economic quantities with breaks.

Formulas of operations textbooks; quantities are in any one unit, money in any one unit, time in
one unit. Floats are right here: these are proposals made from estimates, and whole packs are
weighed against one another for every supplier.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor, sqrt
from statistics import NormalDist, fmean, stdev

from app.core.errors import DomainError
from app.core.planning.packs import PackOffer
from app.language import say


def safety_factor(service: float) -> float:
    """Standard deviations of safety so that this share of lead times does not run dry."""
    if not 0.5 <= service < 1:
        raise DomainError(say("The service wanted lies between 50% and less than 100%."), "service")
    return NormalDist().inv_cdf(service)


def weeks_left(here: int, used: int, weeks: int) -> Fraction | None:
    """How long what is here lasts, used as in the last ``weeks``; None where nothing was used."""
    return Fraction(here * weeks, used) if used > 0 else None


def reorder_level(
    mean_use: float, sd_use: float, lead: float, z: float, sd_lead: float = 0.0
) -> float:
    """Use over the lead time and safety stock: d·L + z·√(L·σ_d² + d²·σ_L²)."""
    return mean_use * lead + z * sqrt(lead * sd_use**2 + mean_use**2 * sd_lead**2)


def economic_quantity(fixed: float, demand: float, holding: float) -> float:
    """The quantity that costs least to order and to keep: √(2·K·D/h) (Harris 1913)."""
    if holding <= 0 or demand <= 0:
        return 0.0
    return sqrt(2 * fixed * demand / holding)


def cost_rate(quantity: float, fixed: float, demand: float, holding: float, price: float) -> float:
    """Money in a unit of time: what is bought, ordering it, keeping half a lot on average."""
    return price * demand + fixed * demand / quantity + holding * quantity / 2


@dataclass(frozen=True)
class PackLot:
    """So many packs of one offer, ordered again and again, and what that costs in a year."""

    offer: PackOffer
    packs: int
    pack_price: Decimal
    yearly: float

    @property
    def cost(self) -> Decimal:
        """Money for the packs."""
        return self.packs * self.pack_price

    @property
    def quantity(self) -> int:
        """Base units in the packs."""
        return self.packs * self.offer.quantity


def best_lots(
    offers: Sequence[PackOffer], fixed: float, demand: float, holding_rate: float, least: int = 0
) -> list[PackLot]:
    """For each offer its best whole number of packs, the least yearly cost first.

    All packs get the price of the break they reach. Between two breaks the yearly cost falls up to
    the economic quantity and rises after it, so the best whole number is a neighbour of it, or an
    end of that stretch. ``demand`` is base units a year, ``least`` the base units an order must
    hold at the least. Raises where nobody offers it.
    """
    if not offers:
        raise DomainError(say("There is no price to work with."))
    found = [
        min(
            _candidates(offer, fixed, demand, holding_rate, least),
            key=lambda lot: (lot.yearly, lot.packs),
        )
        for offer in offers
    ]
    return sorted(found, key=lambda lot: (lot.yearly, lot.offer.lead_days, lot.offer.key))


def _candidates(
    offer: PackOffer, fixed: float, demand: float, holding_rate: float, least: int
) -> Iterator[PackLot]:
    """Numbers of packs of which one is the best, priced."""
    fewest = max(-(-least // offer.quantity), 1)
    ends = [start - 1 for start, _ in offer.breaks[1:]]
    for (start, price), end in zip(offer.breaks, [*ends, None], strict=True):
        each = float(price) / offer.quantity
        ideal = economic_quantity(fixed, demand, holding_rate * each) / offer.quantity
        low = max(start, fewest)
        for packs in {low, max(floor(ideal), low), max(ceil(ideal), low)}:
            bought = packs if end is None else min(packs, end)
            if bought >= low:
                amount = bought * offer.quantity
                yearly = cost_rate(amount, fixed, demand, holding_rate * each, each)
                yield PackLot(offer, bought, price, yearly)


@dataclass(frozen=True)
class Use:
    """What was used week by week: mean and standard deviation."""

    weeks: int
    mean: float
    sd: float
    total: int


def use_by_week(quantities: Sequence[int]) -> Use:
    """Mean and spread of weekly quantities, the quiet weeks among them."""
    if not quantities:
        return Use(0, 0.0, 0.0, 0)
    spread = stdev(quantities) if len(quantities) > 1 else 0.0
    return Use(len(quantities), fmean(quantities), spread, sum(quantities))
