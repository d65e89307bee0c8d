"""What is needed and by when: journals asked for, less those on the shelf, taken apart.

Demands are order lines, markets' take-lists and shelf levels. Each journal still to make is
taken apart into pieces of paper and other materials, and every one of those demands keeps the
reason of the journal it is for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction

from sqlalchemy.orm import Session

from app.core.paper import Piece
from app.core.planning.requirements import Demand, Peg, Shortage, bench_days, net
from app.core.states import ORDER_NEEDS_MAKING
from app.models import Material, Paper, Shop, Variant
from app.services.estimating import Estimate
from app.services.journals import estimate, sellable
from app.services.markets import upcoming
from app.services.orders import open_orders
from app.services.shop import the_shop
from app.services.stock import Holding, holdings, item_key

SHELF_DAYS = 28
"""Shelf levels are made up again within four weeks."""


@dataclass(frozen=True)
class PieceNeed:
    """One kind of piece of one paper, with the dated demands for it."""

    key: str
    paper: Paper
    piece: Piece
    designs: tuple[str, ...]
    demands: tuple[Demand, ...]

    @property
    def count(self) -> int:
        """Pieces wanted in all."""
        return sum(d.quantity for d in self.demands)


@dataclass(frozen=True)
class Needs:
    """Everything still to make, and what it takes; ``troubles`` could not be taken apart."""

    shop: Shop
    to_make: Mapping[str, Shortage]
    variants: Mapping[str, Variant]
    estimates: Mapping[str, Estimate]
    pieces: tuple[PieceNeed, ...]
    materials: Mapping[str, Material]
    material_demands: tuple[Demand, ...]
    stock: Mapping[str, Holding]
    troubles: tuple[str, ...] = field(default=())

    def on_shelf(self, variant: Variant) -> int:
        """Finished journals here."""
        return self.there(item_key(variant))

    def there(self, key: str) -> int:
        """What is here of a thing, in base units."""
        return self.stock[key].quantity if key in self.stock else 0


def journal_demands(
    session: Session, on: date, market_ids: Collection[int] | None
) -> tuple[list[Demand], dict[str, Variant]]:
    """Who wants which journals by when; ``market_ids`` None takes all markets to come."""
    demands: list[Demand] = []
    variants: dict[str, Variant] = {}

    def want(variant: Variant, quantity: int, by: date, reason: str, link: str) -> None:
        key = item_key(variant)
        variants[key] = variant
        demands.append(Demand(key, quantity, max(by, on), reason, link))

    for order in open_orders(session):
        if order.state in ORDER_NEEDS_MAKING:
            for line in order.lines:
                reason = f"Order {order.number}, {order.customer.name}"
                want(line.variant, line.quantity, order.wanted_by, reason, f"order-{order.id}")
    for market in upcoming(session, on):
        if market_ids is None or market.id in market_ids:
            for taken in market.lines:
                want(taken.variant, taken.take, market.day, market.name, f"market-{market.id}")
    for variant in sellable(session):
        if variant.shelf_level:
            by = on + timedelta(days=SHELF_DAYS)
            link = f"journal-{variant.design.journal_id}"
            want(variant, variant.shelf_level, by, f"Shelf, {variant.full_name}", link)
    return demands, variants


def needs(session: Session, on: date, market_ids: Collection[int] | None = None) -> Needs:
    """Net the demands against the shelf and take what is left apart."""
    shop = the_shop(session)
    stock = holdings(session)
    demands, variants = journal_demands(session, on, market_ids)
    to_make = net(demands, {key: held.quantity for key, held in stock.items()})
    estimates = {
        key: estimate(session, variants[key], on, max(short.short, 1))
        for key, short in to_make.items()
        if short.short
    }
    troubles: list[str] = []
    pieces: list[PieceNeed] = []
    materials: dict[str, Material] = {}
    material_demands: list[Demand] = []
    for key, worked in estimates.items():
        variant, pegs = variants[key], to_make[key].pegs
        design = f"{variant.full_name}, design {variant.design.number}"
        pieces += _pieces(worked, pegs, design, Fraction(shop.spoilage), troubles)
        for material, needed in _materials(worked, variant, pegs, troubles):
            materials[item_key(material)] = material
            material_demands += needed
    return Needs(
        shop, to_make, variants, estimates, _merged(pieces), materials,
        tuple(material_demands), stock, tuple(troubles),
    )  # fmt: skip


def _pieces(
    worked: Estimate,
    pegs: Iterable[Peg],
    design: str,
    spoilage: Fraction,
    troubles: list[str],
) -> list[PieceNeed]:
    """Pieces of each paper, the spoilage expected on top of every demand."""
    found: list[PieceNeed] = []
    for role in worked.structure.roles:
        if role.measure != "sheet":
            continue
        paper = worked.paper_in(role.key)
        if paper is None:
            troubles.append(f"{design}: no {role.label.lower()} is chosen.")
            continue
        if paper.trouble:
            troubles.append(f"{design}: {paper.trouble}")
            continue
        size = paper.piece
        name = f"paper-{paper.paper.id}/{size.width_nm}x{size.height_nm}/{size.grain}"
        demands = tuple(
            Demand(
                name,
                _up(peg.quantity * paper.piece.count * (1 + spoilage)),
                peg.demand.by,
                peg.demand.reason,
                peg.demand.link,
            )
            for peg in pegs
        )
        found.append(PieceNeed(name, paper.paper, paper.piece, (design,), demands))
    return found


def _merged(pieces: Iterable[PieceNeed]) -> tuple[PieceNeed, ...]:
    """Pieces of one size and paper are one kind, whichever journals they go into."""
    kinds: dict[str, PieceNeed] = {}
    for need in pieces:
        known = kinds.get(need.key)
        if known:
            need = replace(
                known, designs=known.designs + need.designs, demands=known.demands + need.demands
            )
        kinds[need.key] = need
    return tuple(kinds.values())


def _materials(
    worked: Estimate, variant: Variant, pegs: Iterable[Peg], troubles: list[str]
) -> Iterable[tuple[Material, list[Demand]]]:
    chosen = {choice.role: choice.material for choice in variant.choices}
    for role in worked.structure.roles:
        amount = worked.build.lengths.get(role.key, worked.build.counts.get(role.key, 0))
        if role.measure == "sheet" or not amount:
            continue
        material = chosen.get(role.key)
        if material is None:
            troubles.append(f"{variant.full_name}: no {role.label.lower()} chosen.")
            continue
        yield (
            material,
            [
                Demand(
                    item_key(material),
                    _up(peg.quantity * amount * (1 + Fraction(material.waste))),
                    peg.demand.by,
                    peg.demand.reason,
                    peg.demand.link,
                )
                for peg in pegs
            ],
        )


def _up(value: Fraction | int) -> int:
    exact = Fraction(value)
    return -(-exact.numerator // exact.denominator)


def days_at_the_bench(found: Needs, demands: Iterable[Demand]) -> int:
    """Bench days before the earliest demand to make everything wanted by then."""
    first = min(d.by for d in demands)
    minutes = sum(
        float(found.estimates[key].sheet.minutes) * peg.quantity
        for key, short in found.to_make.items()
        if key in found.estimates
        for peg in short.pegs
        if peg.demand.by <= first
    )
    return bench_days(minutes, found.shop.week_minutes, first)
