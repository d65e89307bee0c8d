"""Whether a buy list is still the one that was shown, and in words what changed since."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from app.core.money import MOST, Currency
from app.language import say, say_many
from app.services.purchasing.buy_lines import BuyLine
from app.services.purchasing.buy_list import BuyList
from app.services.stock.ledger import item_key

MOST_SHOWN, MOST_FIGURES = 500_000, 40
"""Characters of a list in short, and of the figures of a line; more were never written."""


def in_short(found: BuyList) -> str:
    """A list in one line: what of whom, packs and cost. Two lists with the same are the same."""
    return " ".join(f"{_key(line)}={line.packs}={line.cost}" for line in found.lines)


def changes_since(shown: str, found: BuyList) -> list[str]:
    """What is not as it was shown, a sentence a line; nothing where all is the same."""
    before = _read(shown[:MOST_SHOWN])
    said = []
    for line in found.lines:
        packs, cost = before.pop(_key(line), (0, Decimal(0)))
        if (packs, cost) != (line.packs, line.cost):
            said.append(_change(line, packs, found.currency.show(cost), found.currency))
    if before:
        said.append(say_many(len(before), "{n} line fell away.", "{n} lines fell away."))
    return said


def _change(line: BuyLine, packs: int, cost: str, money: Currency) -> str:
    """What a line says now, and what it said: so many packs at a cost, or nothing."""
    now = {
        "name": line.name, "supplier": line.offer.supplier.name, "packs": _packs(line.packs),
        "cost": money.show(line.cost),
    }  # fmt: skip
    if not packs:
        return say("{name} from {supplier}: {packs} for {cost} are new.", **now)
    return say(
        "{name} from {supplier}: {packs} for {cost} instead of {packs_before} for {cost_before}.",
        packs_before=_packs(packs), cost_before=cost, **now,
    )  # fmt: skip


def _key(line: BuyLine) -> str:
    return f"{item_key(line.item)}/{line.offer.id}"


def _read(shown: str) -> dict[str, tuple[int, Decimal]]:
    rows = {}
    for word in shown.split():
        key, _, figures = word.partition("=")
        packs, _, cost = figures.partition("=")
        if len(figures) > MOST_FIGURES:
            continue
        try:
            row = (int(packs), Decimal(cost))
        except (ValueError, InvalidOperation):
            continue
        if row[1].is_finite() and abs(row[1]) <= MOST:
            rows[key] = row
    return rows


def _packs(number: int) -> str:
    return say_many(number, "{n} pack", "{n} packs")
