"""When to order again and how much: reorder levels, safety stock, economic quantities with breaks.

Formulas of operations textbooks; quantities are in any one unit, money in any one unit, time in
one unit. Floats are right here: these are proposals made from estimates, and whole packs are
counted from them afterwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, inf, sqrt
from statistics import NormalDist, fmean, stdev

from app.core.errors import DomainError


def safety_factor(service: float) -> float:
    """Standard deviations of safety so that this share of lead times does not run dry."""
    if not 0.5 <= service < 1:
        raise DomainError("The service wanted lies between 50% and less than 100%.", "service")
    return NormalDist().inv_cdf(service)


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
class Economic:
    """A quantity, the price it earns, and what it costs in a unit of time."""

    quantity: float
    price: float
    cost: float


def economic_with_breaks(
    fixed: float, demand: float, holding_rate: float, breaks: Mapping[float, float]
) -> Economic:
    """The best quantity where all units get the price of the break reached.

    ``breaks`` maps the least quantity to the price; the best is one of the breaks or the economic
    quantity at a price, where that price is earned.
    """
    best: Economic | None = None
    ordered = sorted(breaks.items())
    for index, (least, price) in enumerate(ordered):
        below = ordered[index + 1][0] if index + 1 < len(ordered) else inf
        holding = holding_rate * price
        ideal = economic_quantity(fixed, demand, holding)
        quantity = min(max(ideal, least), below)
        if quantity <= 0 or quantity >= below:
            continue
        cost = cost_rate(quantity, fixed, demand, holding, price)
        if best is None or cost < best.cost:
            best = Economic(quantity, price, cost)
    if best is None:
        raise DomainError("There is no price to work with.")
    return best


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


def whole_packs(quantity: float, pack: int, least: int = 1) -> int:
    """Packs that hold at least a quantity."""
    return max(ceil(quantity / pack - 1e-9), least)
