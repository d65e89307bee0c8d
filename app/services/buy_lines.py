"""Lines of the buy list: packs of one thing from one supplier, by when, for what; other ways."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from app.core.planning.packs import cheapest
from app.core.planning.requirements import Demand, Peg, net, order_by
from app.models import Material, Offer, StockSheet
from app.services.cut_plans import SheetShare
from app.services.materials import as_pack_offers, offers_in_force
from app.services.needs import Needs, bench_starts
from app.services.on_the_way import Coming


@dataclass(frozen=True)
class SheetCut(SheetShare):
    """Sheets of one source cut by one layout, and the demands that their pieces serve."""

    pegs: tuple[Peg, ...]


@dataclass(frozen=True)
class BuyLine:
    """So many packs of one thing from one supplier, by when, and what for."""

    item: StockSheet | Material
    name: str
    offer: Offer
    packs: int
    quantity: int
    cost: Decimal
    order_by: date
    needed: date
    late: bool
    pegs: tuple[Peg, ...]
    cuts: tuple[SheetCut, ...] = ()
    others: tuple[OtherWay, ...] = ()
    """The same from other suppliers."""


@dataclass(frozen=True)
class OtherWay:
    """Another way to cover a need, and the money it would take."""

    name: str
    spend: Decimal | None
    why_not: str | None


@dataclass(frozen=True)
class Enough:
    """A material of which there is enough: needed and here, in base units."""

    material: Material
    needed: int
    there: int


def comes_late(found: Needs, demands: Sequence[Demand], on: date) -> int:
    """Lead times longer than this many days come too late for one of the demands."""
    return (bench_starts(found, demands) - on).days


def is_late(offer: Offer | None, most_days: int) -> bool:
    return offer is not None and offer.lead_days > most_days


def line_for(
    found: Needs,
    item: StockSheet | Material,
    name: str,
    offer: Offer,
    packs: int,
    cost: Decimal,
    pegs: tuple[Peg, ...],
    on: date,
    cuts: tuple[SheetCut, ...] = (),
) -> BuyLine:
    needed = min(peg.demand.by for peg in pegs)
    last_day = order_by(bench_starts(found, [peg.demand for peg in pegs]), offer.lead_days)
    return BuyLine(
        item, name, offer, packs, packs * offer.pack_quantity, cost, last_day, needed,
        last_day < on, pegs, cuts,
    )  # fmt: skip


def materials_to_buy(
    found: Needs, on: date, troubles: list[str], late_ones: list[str]
) -> tuple[list[BuyLine], list[Enough]]:
    """Packs of everything that is not sheets, and what there is enough of."""
    there = {key: held.quantity for key, held in found.stock.items()}
    for key, rows in found.coming.items():
        there[key] = there.get(key, 0) + sum(coming.quantity for coming in rows)
    lines: list[BuyLine] = []
    enough: list[Enough] = []
    for key, short in net(found.material_demands, there).items():
        material = found.materials[key]
        late_ones += _late_arrivals(found, key, material.name, short.demands, on)
        if not short.short:
            enough.append(Enough(material, short.needed, short.there))
            continue
        offers = offers_in_force(material.offers, on)
        if not offers:
            troubles.append(
                f"{material.name}: more is needed than is here, and no supplier's offer is on "
                "record. Add an offer."
            )
            continue
        late = comes_late(found, [peg.demand for peg in short.pegs], on)
        in_time = [o for o in offers if not is_late(o, late)]
        choice = cheapest(short.short, as_pack_offers(in_time or offers))[0]
        offer = next(o for o in offers if o.id == choice.offer.key)
        others = _other_suppliers(short.short, offers, offer, late)
        line = line_for(
            found, material, material.name, offer, choice.packs, choice.cost, short.pegs, on
        )
        lines.append(replace(line, others=others))
    return lines, sorted(enough, key=lambda row: row.material.name)


def _other_suppliers(
    short: int, offers: Sequence[Offer], chosen: Offer, late: int
) -> tuple[OtherWay, ...]:
    """The same quantity from everybody else who offers it."""
    by_id = {offer.id: offer for offer in offers}
    return tuple(
        OtherWay(
            f"{choice.packs} from {by_id[choice.offer.key].supplier.name}", choice.cost,
            "comes too late" if is_late(by_id[choice.offer.key], late) else None,
        )
        for choice in cheapest(short, as_pack_offers(offers))
        if choice.offer.key != chosen.id
    )  # fmt: skip


def _late_arrivals(
    found: Needs, key: str, name: str, demands: Sequence[Demand], on: date
) -> list[str]:
    """What is on its way and comes after the bench should begin with it, in words."""
    said = []
    left = found.there(key)
    arrivals = [(c, c.quantity) for c in found.coming.get(key, ())]
    for demand in sorted(demands, key=lambda d: (d.by, d.link)):
        wanted = demand.quantity - min(left, demand.quantity)
        left -= demand.quantity - wanted
        while wanted and arrivals:
            coming, there = arrivals.pop(0)
            used = min(there, wanted)
            wanted -= used
            if used < there:
                arrivals.insert(0, (coming, there - used))
            starts = bench_starts(found, [demand])
            if coming.expected_on > starts:
                said.append(comes_after(name, coming, starts, demand))
    return list(dict.fromkeys(said))


def comes_after(name: str, coming: Coming, starts: date, demand: Demand) -> str:
    return (
        f"{name}: purchase {coming.purchase.number} is expected on {coming.expected_on:%a} "
        f"{coming.expected_on.day} {coming.expected_on:%b}, and the bench should begin on "
        f"{starts:%a} {starts.day} {starts:%b} for {demand.reason}. Ask the supplier, or agree a "
        "later day."
    )
