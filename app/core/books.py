"""Double entry: every entry debits as much as it credits, so all accounts together come to nothing.

A debit is above zero, a credit below it. Assets and expenses stand in debit as a rule, what is
owed, capital and income in credit.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from app.core.errors import DomainError
from app.language import say, to_say

ZERO = Decimal(0)


class AccountKind(StrEnum):
    """On which side of which sheet an account stands."""

    ASSET = to_say("owned")
    LIABILITY = to_say("owed")
    EQUITY = to_say("capital")
    INCOME = to_say("income")
    EXPENSE = to_say("cost")


OF_THE_YEAR = (AccountKind.INCOME, AccountKind.EXPENSE)
"""Kinds that begin at nothing each year."""


@dataclass(frozen=True, order=True)
class Account:
    """An account by its name."""

    kind: AccountKind
    name: str


@dataclass(frozen=True)
class Entry:
    """What happened on a day, as amounts on two accounts or more that add up to nothing."""

    day: date
    text: str
    amounts: tuple[tuple[Account, Decimal], ...]

    def __post_init__(self) -> None:
        if sum((amount for _, amount in self.amounts), ZERO):
            raise DomainError(say("“{entry}” does not balance.", entry=self.text))


def entry(day: date, text: str, debit: Account, credit: Account, amount: Decimal) -> Entry:
    """One amount from an account to another; below zero it goes the other way."""
    return Entry(day, text, ((debit, amount), (credit, -amount)))


@dataclass(frozen=True)
class Balance:
    """What an account comes to, on its side."""

    account: Account
    amount: Decimal

    @property
    def debit(self) -> Decimal:
        """The amount, where it is a debit."""
        return max(self.amount, ZERO)

    @property
    def credit(self) -> Decimal:
        """The amount, where it is a credit."""
        return max(-self.amount, ZERO)


def trial_balance(entries: Iterable[Entry]) -> list[Balance]:
    """Every account that does not come to nothing; debits and credits are the same sum."""
    sums: dict[Account, Decimal] = {}
    for one in entries:
        for account, amount in one.amounts:
            sums[account] = sums.get(account, ZERO) + amount
    order = list(AccountKind)
    return [
        Balance(account, sums[account])
        for account in sorted(sums, key=lambda a: (order.index(a.kind), a.name))
        if sums[account]
    ]


def income(balances: Sequence[Balance]) -> Decimal:
    """Income less costs; below zero a loss."""
    return -sum((b.amount for b in balances if b.account.kind in OF_THE_YEAR), ZERO)


def closing(balances: Sequence[Balance], day: date, into: Account) -> Entry:
    """The entry that takes income and costs to nothing, and what is left of them to capital."""
    of_year = [b for b in balances if b.account.kind in OF_THE_YEAR]
    moved = tuple((b.account, -b.amount) for b in of_year)
    return Entry(day, say("Year closed"), (*moved, (into, -income(balances))))
