"""This journal, but cheaper: single changes that save money, each with what it costs in pages.

Every change is worked out in full, as the design page would, with all else as it is. Changes
that would not work, leave part of the cost unknown or save nothing are left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from app.core.errors import DomainError
from app.core.length import show_length
from app.language import say
from app.models import Paper
from app.services.designs.comparing import said_of
from app.services.designs.estimating import Estimate, work_out
from app.services.designs.journals import Draft
from app.services.designs.price_book import PriceBook
from app.services.designs.yield_stairs import yield_stairs
from app.services.shop.wording import capital
from app.services.stock.materials import paper_facts

MOST = 12
LIKE = (Fraction(1, 2), Fraction(3, 2))
"""How thick another paper may be, as a share of the one it stands in for: a rule of thumb."""
TIMES = (2, 4)
"""How many times as many are made together."""
A_TENTH = 24
"""Of more than this a tenth is left out at a time, not one."""


@dataclass(frozen=True)
class Cheaper:
    """One change to a design: ``tried`` is what the design page has to be given to show it.

    ``warns`` are warnings that the design has not got as it is.
    """

    says: str
    tried: str
    estimate: Estimate
    saves: Decimal
    pages: int
    minutes: Fraction
    warns: tuple[str, ...]


@dataclass(frozen=True)
class _Change:
    says: str
    tried: str
    draft: Draft


def cheaper(
    book: PriceBook, papers: Sequence[Paper], draft: Draft
) -> tuple[Estimate, list[Cheaper]]:
    """The design as it is, and what would make it cheaper, by what it saves on one.

    Raises DomainError where the design itself cannot be worked out.
    """
    now = _estimate(book, draft)
    found = []
    for change in _changes(now, papers, draft):
        try:
            then = _estimate(book, change.draft)
        except DomainError:
            continue
        saves = now.sheet.total() - then.sheet.total()
        if saves <= 0 or not then.whole or any(grave for _, grave in then.advice):
            continue
        known = set(now.advice)
        found.append(
            Cheaper(
                change.says, change.tried, then, saves, then.build.pages - now.build.pages,
                then.sheet.minutes - now.sheet.minutes,
                tuple(text for text, grave in then.advice if (text, grave) not in known),
            )
        )  # fmt: skip
    # What saves as much and costs fewer pages comes first.
    found.sort(key=lambda c: (-c.saves, -c.pages, c.says))
    return now, found[:MOST]


def _estimate(book: PriceBook, draft: Draft) -> Estimate:
    return work_out(
        book, draft.structure, draft.dimensions, draft.choices, batch=draft.batch_size,
        asked=draft.prices, quantities=draft.quantities, parts=draft.parts,
    )  # fmt: skip


def _changes(now: Estimate, papers: Sequence[Paper], draft: Draft) -> Iterator[_Change]:
    yield from _sizes(now, draft)
    yield from _counts(now, draft)
    yield from _papers(now, papers, draft)
    for times in TIMES:
        batch = now.batch * times
        yield _Change(
            say("Made together: {new} instead of {old}", new=batch, old=now.batch),
            f"batch~{batch}",
            replace(draft, batch_size=batch),
        )


def _sizes(now: Estimate, draft: Draft) -> Iterator[_Change]:
    """The nearest smaller leaf of which some sheet gives more."""
    dims = now.structure.complete(draft.dimensions)
    at = {
        (row.dimension, row.saving.at_nm): row
        for row in yield_stairs(now, dims)
        if row.saving is not None
    }
    for (key, nm), row in at.items():
        unit = now.shop.unit
        yield _Change(
            _instead(capital(row.label), show_length(nm, unit), show_length(row.now_nm, unit)),
            f"{key}~{nm}", replace(draft, dimensions={**dims, key: nm}),
        )  # fmt: skip


def _counts(now: Estimate, draft: Draft) -> Iterator[_Change]:
    """One less of everything that is counted; of many a tenth."""
    dims = now.structure.complete(draft.dimensions)
    for dimension in now.structure.dimensions:
        if dimension.kind != "count":
            continue
        value = int(dims[dimension.key])
        fewer = value - _step(value)
        if value and fewer >= dimension.least:
            yield _Change(
                _instead(capital(said_of(dimension)), fewer, value),
                f"{dimension.key}~{fewer}",
                replace(draft, dimensions={**dims, dimension.key: fewer}),
            )


def _step(value: int) -> int:
    return 1 if value <= A_TENTH else value // 10


def _papers(now: Estimate, papers: Sequence[Paper], draft: Draft) -> Iterator[_Change]:
    """Another paper about as thick, for each place that one fills."""
    for role in now.structure.roles:
        chosen = draft.choices.get(role.key)
        if role.measure != "sheet" or not isinstance(chosen, Paper):
            continue
        thick = paper_facts(chosen).caliper_nm
        for paper in papers:
            caliper = paper_facts(paper).caliper_nm
            if paper is not chosen and thick and LIKE[0] * thick <= caliper <= LIKE[1] * thick:
                yield _Change(
                    _instead(role.label, paper.name, chosen.name),
                    f"role_{role.key}~{paper.id}",
                    replace(draft, choices={**draft.choices, role.key: paper}),
                )


def _instead(what: str, new: object, old: object) -> str:
    return say("{what}: {new} instead of {old}", what=what, new=new, old=old)
