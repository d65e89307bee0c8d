"""Whether a buy list is still the one that was shown, and in words what changed since."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

from app.core.money import MOST
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
            was = f"instead of {_packs(packs)} for {found.currency.show(cost)}"
            said.append(
                f"{line.name} from {line.offer.supplier.name}: {_packs(line.packs)} for "
                f"{found.currency.show(line.cost)} {was if packs else 'are new'}."
            )
    if before:
        gone = len(before)
        said.append(f"{gone} line{'' if gone == 1 else 's'} fell away.")
    return said


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
    return f"{number} pack{'' if number == 1 else 's'}"
