"""Designs held against one another, and what a little more of something does to the cost."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.costing import Outcome
from app.core.errors import DomainError
from app.core.length import INCH, MM, show_length
from app.core.structures.base import Dimension
from app.core.structures.parts import PartPer
from app.language import about, say, to_say
from app.models import Shop, Variant
from app.services.designs.estimating import Estimate, RolePaper, work_out
from app.services.designs.journals import Draft, estimate_by
from app.services.designs.price_book import PriceBook, read_prices
from app.services.designs.take_off import PartUse
from app.services.shop.wording import within
from app.units import type_quantity

MOST_NUDGES = 8
MOST_COMPARED = 4


@dataclass(frozen=True)
class Nudge:
    """A little more of one dimension: what it does to the cost and the minutes of one."""

    label: str
    more: str
    cost: Decimal
    minutes: Fraction


def nudges(book: PriceBook, draft: Draft, now: Estimate) -> list[Nudge]:
    """One more of each count and a little more of the leaf, the dearest first."""
    found = []
    for dimension in now.structure.dimensions:
        step = _step(dimension, now)
        dims = now.structure.complete(draft.dimensions)
        # Of what there is none, nobody wonders about one more.
        if step is None or not dims[dimension.key]:
            continue
        dims[dimension.key] = int(dims[dimension.key]) + step
        try:
            then = work_out(
                book, draft.structure, dims, draft.choices, batch=now.batch,
                quantities=draft.quantities, parts=draft.parts,
            )  # fmt: skip
        except DomainError:
            continue
        more = f"{step}" if dimension.kind == "count" else show_length(step, now.shop.unit)
        cost = then.sheet.total() - now.sheet.total()
        if cost or then.sheet.minutes != now.sheet.minutes:
            found.append(
                Nudge(said_of(dimension), more, cost, then.sheet.minutes - now.sheet.minutes)
            )
    return sorted(found, key=lambda n: (-abs(n.cost), n.label))[:MOST_NUDGES]


def _step(dimension: Dimension, now: Estimate) -> int | None:
    if dimension.kind == "count":
        return 1
    if dimension.key in now.structure.stairs_keys:
        return INCH // 4 if now.shop.unit == "in" else 5 * MM
    return None


def said_of(dimension: Dimension) -> str:
    """What a dimension is called away from its group."""
    group = within(dimension.group)
    known = {
        say("How many"): group,
        say("Height"): say("{group} height", group=group),
        say("Width"): say("{group} width", group=group),
    }
    return known.get(dimension.label, within(dimension.label))


@dataclass(frozen=True)
class Side:
    """One of the designs compared; ``estimate`` is None where it cannot be worked out."""

    variant: Variant
    estimate: Estimate | None
    trouble: str


@dataclass(frozen=True)
class Row:
    """One thing of every design, in words; ``same`` where they do not differ."""

    label: str
    said: tuple[str, ...]

    @property
    def same(self) -> bool:
        """Whether all say the same."""
        return len(set(self.said)) == 1


def compare(
    session: Session, variants: Sequence[Variant], on: date, batch: int | None = None
) -> tuple[list[Side], list[Row]]:
    """Designs side by side: measures, papers, yields, weight, time, cost and price."""
    sides, book = [], read_prices(session, on)
    for variant in variants:
        try:
            sides.append(Side(variant, estimate_by(book, variant, batch), ""))
        except DomainError as error:
            sides.append(Side(variant, None, error.message))
    whole = [side.estimate for side in sides if side.estimate]
    if len(whole) < len(sides) or not whole:
        return sides, []
    return sides, [*_measures(sides), *_materials(sides), *_parts(whole), *_figures(whole)]


def _measures(sides: Sequence[Side]) -> list[Row]:
    """Every dimension that any of them has."""
    labels: dict[str, str] = {}
    shown: list[dict[str, str]] = []
    for side in sides:
        if side.estimate is None:
            continue
        said = {}
        dims = side.estimate.structure.complete(side.variant.design.dimensions)
        for dimension in side.estimate.structure.dimensions:
            key = f"{dimension.group}/{dimension.label}"
            labels[key] = about(dimension.group, within(dimension.label))
            value = dims.get(dimension.key)
            said[key] = _value(dimension, value, side.estimate.shop)
        shown.append(said)
    return [Row(label, tuple(s.get(key, "–") for s in shown)) for key, label in labels.items()]


def _materials(sides: Sequence[Side]) -> list[Row]:
    """What fills each role that is no paper."""
    shown = [
        {c.role: c.material.name for c in side.variant.choices if c.material} for side in sides
    ]
    labels = {
        role.key: role.label
        for side in sides
        if side.estimate
        for role in side.estimate.structure.roles
        if role.measure != "sheet"
    }
    return [
        Row(label, tuple(s.get(key, "–") for s in shown))
        for key, label in labels.items()
        if any(key in s for s in shown)
    ]


def _parts(found: Sequence[Estimate]) -> list[Row]:
    """What each has beside what it is built of, where any has something."""

    if not any(e.parts for e in found):
        return []
    said = ("; ".join(_part(use, e.shop.unit) for use in e.parts) or "–" for e in found)
    return [Row(say("Parts"), tuple(said))]


_PART = {
    PartPer.JOURNAL: to_say("{part}: {amount} of {material} each journal"),
    PartPer.SIGNATURE: to_say("{part}: {amount} of {material} each signature"),
    PartPer.BATCH: to_say("{part}: {amount} of {material} once a batch"),
}


def _part(use: PartUse, unit: str) -> str:
    amount = type_quantity(use.quantity, use.material.measure, unit)
    return say(_PART[use.per], part=use.name, amount=amount, material=use.material.name)


def _value(dimension: Dimension, value: int | str | None, shop: Shop) -> str:
    if value is None:
        return "–"
    if dimension.kind == "length":
        return show_length(int(value), shop.unit)
    if dimension.kind == "choice":
        return dict(dimension.choices).get(str(value), str(value))
    return f"{value}%" if dimension.kind == "percent" else str(value)


def _figures(found: Sequence[Estimate]) -> list[Row]:
    def row(label: str, *said: str) -> Row:
        return Row(label, said)

    unit = found[0].shop.unit
    rows = [
        row(say("Built as"), *(e.structure.name for e in found)),
        row(say("Made of"), *(e.build.made_of for e in found)),
        row(say("Pages"), *(str(e.build.pages or "–") for e in found)),
        row(say("Closed thickness"), *(show_length(e.build.thickness_nm, unit) for e in found)),
        row(say("Weight"), *(f"{round(e.weight_mg / 1000)} g" for e in found)),
    ]
    roles = {p.role.key: p.role.label for e in found for p in e.papers}
    for key, label in roles.items():
        rows.append(row(label, *(_yield(e, key) for e in found)))
    rows += [
        row(say("Bench minutes"), *(f"{round(e.sheet.minutes)} min" for e in found)),
        row(say("Materials"), *(e.currency.show(e.sheet.total("materials")) for e in found)),
        row(say("Cost"), *(e.currency.show(e.sheet.total()) for e in found)),
    ]
    for index, price in enumerate(found[0].prices):
        wants = [e.prices[index].suggested for e in found]
        rows.append(
            row(
                say("{channel}, suggested price", channel=price.channel.name),
                *(
                    e.currency.show(want) if want is not None else say("no price")
                    for e, want in zip(found, wants, strict=True)
                ),
            )
        )
        rows += _asked(found, index)
    return rows


def _asked(found: Sequence[Estimate], index: int) -> list[Row]:
    """In a channel where somebody asks a price: what each asks, and what that leaves."""
    asked = [e.prices[index].at_asked for e in found]
    if not any(asked):
        return []
    name = found[0].prices[index].channel.name

    def row(label: str, shown: Callable[[Estimate, Outcome], str]) -> Row:
        return Row(
            label, tuple(shown(e, at) if at else "–" for e, at in zip(found, asked, strict=True))
        )

    return [
        row(say("{channel}, your price", channel=name), lambda e, at: e.currency.show(at.price)),
        row(say("{channel}, profit at it", channel=name), _profit),
        row(
            say("{channel}, pay for an hour", channel=name),
            lambda e, at: e.currency.show(at.pay_per_hour or Decimal(0)),
        ),
    ]


def _profit(one: Estimate, at: Outcome) -> str:
    profit = one.currency.show(at.profit)
    return say("{profit}, a loss", profit=profit) if at.loses else profit


def _yield(one: Estimate, role: str) -> str:
    return "; ".join(_from_a_sheet(paper) for paper in one.papers if paper.role.key == role) or "–"


def _from_a_sheet(paper: RolePaper) -> str:
    if paper.chosen is None:
        return say("{paper}: does not fit", paper=paper.paper.name)
    cut = paper.chosen.cut
    return say(
        "{paper}, {number} from {sheet}",
        paper=paper.paper.name, number=cut.best, sheet=cut.sheet.name,
    )  # fmt: skip
