"""Lines of the buy list: packs of one thing from one supplier, by when, for what; other ways."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from app.core.planning.packs import cheapest
from app.core.planning.requirements import Demand, Peg, Shortage, net, order_by
from app.core.planning.sharing import SheetCut
from app.language import say, say_many
from app.models import Material, Offer, StockSheet
from app.services.planning.capacity import day_said, start_in_words
from app.services.planning.making_days import days_to_have
from app.services.planning.requirements import Needs
from app.services.planning.supply import Coming, Supply, supply_of
from app.services.stock.materials import as_pack_offers, offers_with


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
    sums: tuple[str, ...] = ()
    """How the day to order by comes about, a sentence a step."""


@dataclass(frozen=True)
class OtherWay:
    """Another way to cover a need, and the money it would take."""

    name: str
    spend: Decimal | None
    why_not: str | None


@dataclass(frozen=True)
class Enough:
    """A material of which nothing has to be bought: needed and there, in base units."""

    material: Material
    needed: int
    supply: Supply

    @property
    def says(self) -> str:
        """What it is enough with."""
        if self.needed <= self.supply.in_stock:
            return say("enough in stock")
        if self.needed <= self.supply.sure:
            return say("enough once what is on the way has come")
        return say("enough once the draft is sent and has come")


def comes_late(found: Needs, demands: Sequence[Demand], on: date) -> int:
    """Lead times longer than this many days come too late for one of the demands."""
    return min((found.times.start(demand) - on).days for demand in demands)


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
    first = found.times.first(peg.demand for peg in pegs)
    last_day = order_by(found.times.start(first), offer.lead_days)
    return BuyLine(
        item, name, offer, packs, packs * offer.pack_quantity, cost, last_day, needed,
        last_day < on, pegs, cuts,
        sums=order_by_in_words(found, first, offer.supplier.name, offer.lead_days, last_day),
    )  # fmt: skip


def order_by_in_words(
    found: Needs, first: Demand, supplier: str, lead_days: int, last_day: date
) -> tuple[str, ...]:
    """From the day something is wanted back to the day to order for it, a sentence a step."""
    lead = say_many(
        lead_days,
        "{supplier} takes {n} day: order by {day}.",
        "{supplier} takes {n} days: order by {day}.",
        supplier=supplier, day=day_said(last_day),
    )  # fmt: skip
    return (*start_in_words(found.times, first), lead)


@dataclass(frozen=True)
class GoodsToBuy:
    """Packs of everything that is not sheets, and what there is enough of.

    ``problems`` could not be planned; ``late`` comes after the bench should begin with it.
    """

    lines: tuple[BuyLine, ...]
    enough: tuple[Enough, ...]
    problems: tuple[str, ...]
    late: tuple[str, ...]


def goods_to_buy(found: Needs, on: date) -> GoodsToBuy:
    """What of every material has to be bought, from whom, by when."""
    supplies = {
        key: supply_of(found.there(key), found.coming.get(key, ()))
        for key in found.stock.keys() | found.coming.keys()
    }
    there = {key: supply.in_all for key, supply in supplies.items()}
    shortages = net(found.material_demands, there)
    enough = [
        Enough(found.materials[key], short.needed, supplies.get(key, supply_of(0, ())))
        for key, short in shortages.items()
        if not short.short
    ]
    short_of = {key: short for key, short in shortages.items() if short.short}
    lines = {key: _goods_line(found, key, short, on) for key, short in short_of.items()}
    return GoodsToBuy(
        tuple(line for line in lines.values() if line),
        tuple(sorted(enough, key=lambda row: row.material.name)),
        tuple(
            why_no_offer(found.materials[key].name, made_here=key in found.recipes)
            for key, line in lines.items()
            if line is None
        ),
        tuple(
            word
            for key, short in shortages.items()
            for word in _late_arrivals(found, key, short.demands, on)
        ),
    )


def why_no_offer(name: str, *, made_here: bool) -> str:
    """Why what is short of a thing cannot be planned."""
    if made_here:
        return say(
            "{name}: more is needed than there is. It is made here, but something it takes is "
            "offered by nobody: add an offer for each part.",
            name=name,
        )
    return say(
        "{name}: more is needed than there is, and no supplier's offer is on record. Add an offer.",
        name=name,
    )


def _goods_line(found: Needs, key: str, short: Shortage, on: date) -> BuyLine | None:
    """The cheapest packs that come in time; None where nobody offers any."""
    material = found.materials[key]
    offers = offers_with(material, on, found.own.get(key))
    if not offers:
        return None
    late = comes_late(found, [peg.demand for peg in short.pegs], on)
    in_time = [o for o in offers if days_to_have(found, o, material, on) <= late]
    choice = cheapest(short.short, as_pack_offers(in_time or offers))[0]
    offer = next(o for o in offers if o.id == choice.offer.key)
    line = line_for(
        found, material, material.name, offer, choice.packs, choice.cost, short.pegs, on
    )
    return replace(line, others=_other_suppliers(short.short, offers, offer, late))


def _other_suppliers(
    short: int, offers: Sequence[Offer], chosen: Offer, late: int
) -> tuple[OtherWay, ...]:
    """The same quantity from everybody else who offers it."""
    by_id = {offer.id: offer for offer in offers}
    return tuple(
        OtherWay(
            say(
                "{packs} from {supplier}",
                packs=choice.packs, supplier=by_id[choice.offer.key].supplier.name,
            ),
            choice.cost,
            say("comes too late") if is_late(by_id[choice.offer.key], late) else None,
        )
        for choice in cheapest(short, as_pack_offers(offers))
        if choice.offer.key != chosen.id
    )  # fmt: skip


def _late_arrivals(found: Needs, key: str, demands: Sequence[Demand], on: date) -> list[str]:
    """What is on its way and comes after the bench should begin with it, in words."""
    name = found.materials[key].name
    said = []
    for coming, demand in arrivals_for(found, key, demands):
        starts = found.times.start(demand)
        if coming.expected_on > starts:
            said.append(comes_after(name, coming, starts, demand))
    return list(dict.fromkeys(said))


def arrivals_for(
    found: Needs, key: str, demands: Sequence[Demand]
) -> Iterator[tuple[Coming, Demand]]:
    """Which demands hang on which arrivals: what is in stock goes first, to the earliest ones."""
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
            yield coming, demand


def comes_after(name: str, coming: Coming, starts: date, demand: Demand) -> str:
    """That something comes too late for the bench, and what to do about it."""
    about = {
        "name": name, "origin": coming.said, "comes": day_said(coming.expected_on),
        "begins": day_said(starts), "reason": demand.reason,
    }  # fmt: skip
    if coming.drafted:
        return say(
            "{name}: {origin} is not sent yet. Sent today it comes on {comes}, and the bench "
            "should begin on {begins} for {reason}. Send it now, find somebody quicker, or agree a "
            "later day.",
            **about,
        )
    if coming.purchase:
        return say(
            "{name}: {origin} is expected on {comes}, and the bench should begin on {begins} for "
            "{reason}. Ask the supplier, or agree a later day.",
            **about,
        )
    return say(
        "{name}: {origin} is expected on {comes}, and the bench should begin on {begins} for "
        "{reason}. Finish it sooner, or agree a later day.",
        **about,
    )
