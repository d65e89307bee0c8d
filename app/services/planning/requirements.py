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

from app.core.cutting.model import Wanted
from app.core.errors import DomainError
from app.core.paper import Piece
from app.core.planning.requirements import Demand, Peg, Shortage, net
from app.core.states import ORDER_NEEDS_MAKING
from app.language import about, say
from app.models import Market, Material, Offer, Paper, Recipe, Shop, Variant
from app.services.designs.journals import kept_on_the_shelf, load_whole, take_off_of
from app.services.designs.price_book import PriceBook, read_prices
from app.services.designs.take_off import Goods, PaperPiece, TakeOff
from app.services.markets.markets import TakeRow, upcoming
from app.services.markets.stall import sold_at
from app.services.orders.search import open_orders
from app.services.orders.standing import standings
from app.services.planning.capacity import BenchTime, InProgress, bench_time, in_progress, key_of
from app.services.planning.own_batches import with_own, without_their_own
from app.services.planning.supply import Coming, on_the_way
from app.services.shop.wording import within
from app.services.stock.ledger import Holding, holdings, item_key
from app.services.stock.offcuts import Offcut, lengths, offcuts

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

    def as_wanted(self) -> Wanted:
        """As the cutting core wants it."""
        return Wanted(self.key, self.piece, self.count)

    @property
    def count(self) -> int:
        """Pieces wanted in all."""
        return sum(d.quantity for d in self.demands)


@dataclass(frozen=True)
class Needs:
    """Everything still to make, and what it takes; ``problems``: what could not be taken apart."""

    shop: Shop
    to_make: Mapping[str, Shortage]
    variants: Mapping[str, Variant]
    pieces: tuple[PieceNeed, ...]
    materials: Mapping[str, Material]
    material_demands: tuple[Demand, ...]
    stock: Mapping[str, Holding]
    problems: tuple[str, ...] = field(default=())
    coming: Mapping[str, list[Coming]] = field(default_factory=dict)
    in_progress: Mapping[str, InProgress] = field(default_factory=dict)
    made_now: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    """Journals in progress that each demand gets, by item key and demand."""
    times: BenchTime = field(default_factory=lambda: BenchTime({}, {}))
    offcuts: Mapping[int, list[Offcut]] = field(default_factory=dict)
    """By stock sheet."""
    lengths: Mapping[int, list[Offcut]] = field(default_factory=dict)
    """Lengths off rolls that are here, by stock sheet."""
    own: Mapping[str, Offer] = field(default_factory=dict)
    """The shop's own offer of what it can make, by item key."""
    recipes: Mapping[str, Recipe] = field(default_factory=dict)

    def with_more(
        self, pieces: Iterable[PieceNeed], goods: Iterable[tuple[Material, Demand]]
    ) -> Needs:
        """These needs and some more."""
        goods = list(goods)
        return replace(
            self, pieces=merged([*self.pieces, *pieces]),
            materials={**self.materials, **{d.thing: m for m, d in goods}},
            material_demands=(*self.material_demands, *(d for _, d in goods)),
        )  # fmt: skip

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

    making = [order for order in open_orders(session) if order.state in ORDER_NEEDS_MAKING]
    known = standings(session, making)
    for order in making:
        for line in order.lines:
            # What is set aside for it, or delivered, is on no shelf and needs no making.
            if missing := known[line.id].missing:
                reason = say(
                    "Order {number}, {customer}", number=order.number, customer=order.customer.name
                )
                want(line.variant, missing, order.wanted_by, reason, f"order-{order.id}")
    coming = upcoming(session, on)
    sold = sold_at(session, coming)
    for market in coming:
        if market_ids is None or market.id in market_ids:
            for taken in market.lines:
                # What was sold there already is on the shelf no more, and needs no making again.
                if left := max(taken.take - sold[market.id].get(taken.variant_id, 0), 0):
                    want(taken.variant, left, market.day, market.name, f"market-{market.id}")
    for variant in kept_on_the_shelf(session):
        by = on + timedelta(days=SHELF_DAYS)
        link = f"journal-{variant.design.journal_id}"
        reason = say("Shelf, {journal}", journal=variant.full_name)
        want(variant, variant.shelf_level, by, reason, link)
    return demands, variants


@dataclass(frozen=True)
class _Netted:
    """Journals wanted less those on the shelf and in progress, before they are taken apart."""

    book: PriceBook
    variants: Mapping[str, Variant]
    stock: Mapping[str, Holding]
    progress: Mapping[str, InProgress]
    to_make: Mapping[str, Shortage]
    made_now: Mapping[str, Mapping[str, int]]


def _netted(session: Session, on: date, market_ids: Collection[int] | None = None) -> _Netted:
    demands, variants = journal_demands(session, on, market_ids)
    book = read_prices(session, on)
    stock, progress = holdings(session), in_progress(session, book)
    shelf = {key: held.quantity for key, held in stock.items()}
    others, own = without_their_own(session, demands)
    with_progress = dict(shelf)
    for key, made in progress.items():
        theirs = sum(own.get(key, {}).values())
        with_progress[key] = shelf.get(key, 0) + made.quantity - theirs
    to_make = net(others, with_progress)
    made_now = _made_now(net(others, shelf), to_make)
    for key, gets in own.items():
        there = made_now.setdefault(key, {})
        for demand_key, number in gets.items():
            there[demand_key] = there.get(demand_key, 0) + number
        to_make[key] = with_own(key, demands, sum(gets.values()), to_make, with_progress)
    return _Netted(book, variants, stock, progress, to_make, made_now)


def needs(session: Session, on: date, market_ids: Collection[int] | None = None) -> Needs:
    """Net the demands against the shelf and take what is left apart."""
    found = _netted(session, on, market_ids)
    load_whole(session, found.variants.values())
    return _taken_apart(
        session, found.book, found.to_make, found.variants, found.stock, found.progress,
        found.made_now,
    )  # fmt: skip


def _made_now(
    without: Mapping[str, Shortage], to_make: Mapping[str, Shortage]
) -> dict[str, dict[str, int]]:
    """How many of the journals in progress each demand gets, by item key and demand."""
    found: dict[str, dict[str, int]] = {}
    for item, short in without.items():
        gets: dict[str, int] = {}
        for sign, pegs in ((1, short.pegs), (-1, to_make[item].pegs)):
            for peg in pegs:
                key = key_of(peg.demand)
                gets[key] = gets.get(key, 0) + sign * peg.quantity
        found[item] = gets
    return found


def batch_needs(session: Session, on: date, batch: Mapping[Variant, int]) -> Needs:
    """What so many of chosen journals take, whatever is on the shelf."""
    variants = {item_key(variant): variant for variant in batch}
    demands = [
        Demand(item_key(v), n, on, f"{n} × {v.full_name}", f"journal-{v.design.journal_id}")
        for v, n in batch.items()
    ]
    return _taken_apart(
        session,
        read_prices(session, on),
        net(demands, {}),
        variants,
        holdings(session),
        {},
        {},
        at_once=True,
    )


def _taken_apart(
    session: Session,
    book: PriceBook,
    to_make: Mapping[str, Shortage],
    variants: Mapping[str, Variant],
    stock: Mapping[str, Holding],
    progress: Mapping[str, InProgress],
    made_now: Mapping[str, Mapping[str, int]],
    *,
    at_once: bool = False,
) -> Needs:
    shop, on = book.shop, book.on
    taken: dict[str, TakeOff] = {}
    parts: list[_Parts] = []
    problems: list[str] = []
    for key, short in to_make.items():
        if short.short:
            try:
                one = take_off_of(book, variants[key])
                size = variants[key].design.batch_size or shop.batch_size
                together = None if at_once else size
                parts.append(_parts(one, variants[key], short.pegs, shop, together))
            except DomainError as error:
                problems.append(about(variants[key].full_name, error.message))
            else:
                taken[key] = one
    return Needs(
        shop, to_make, variants,
        pieces=merged(need for part in parts for need in part.pieces),
        materials={item_key(m): m for part in parts for m, _ in part.materials},
        material_demands=tuple(d for part in parts for _, wanted in part.materials for d in wanted),
        stock=stock,
        problems=(*problems, *(problem for part in parts for problem in part.problems)),
        coming=on_the_way(session, on), in_progress=progress, made_now=made_now,
        times=bench_time(
            shop, to_make, taken, made_now, progress,
            {day for market in upcoming(session, on) for day in market.days},
        ),
        offcuts=_by_sheet(offcuts(session)), lengths=_by_sheet(lengths(session)),
        own=book.own, recipes=book.recipes,
    )  # fmt: skip


def _by_sheet(those: Iterable[Offcut]) -> dict[int, list[Offcut]]:
    found: dict[int, list[Offcut]] = {}
    for offcut in those:
        found.setdefault(offcut.lot.stock_sheet_id or 0, []).append(offcut)
    return found


@dataclass(frozen=True)
class _Parts:
    """What all journals of one variant take, and what could not be taken apart."""

    pieces: tuple[PieceNeed, ...]
    materials: tuple[tuple[Material, list[Demand]], ...]
    problems: tuple[str, ...]


def _parts(
    one: TakeOff, variant: Variant, pegs: Iterable[Peg], shop: Shop, together: int | None
) -> _Parts:
    """Spoilage of paper and waste of materials come on top of every demand.

    So many are made ``together``; None for all of them.
    """
    pegs = tuple(pegs)
    name = variant.full_name
    design = say("{journal}, design {number}", journal=name, number=variant.design.number)
    papers = one.pieces(shop)
    goods = list(one.materials())
    chosen = {paper.role.key for paper in papers}
    unchosen = dict.fromkeys(r.label for r, _ in one.wanted_pieces() if r.key not in chosen)
    return _Parts(
        tuple(_piece_need(p, design, pegs, shop) for p in papers if not p.trouble),
        tuple(
            (m, _of_goods(taking, m, pegs, together))
            for taking in goods
            if (m := taking.material) is not None
        ),
        (
            *(
                say("{design}: no {role} is chosen.", design=design, role=within(label))
                for label in unchosen
            ),
            *(about(design, paper.trouble) for paper in papers if paper.trouble),
            *(
                say("{journal}: no {role} chosen.", journal=name, role=within(taking.label))
                for taking in goods
                if taking.material is None
            ),
        ),
    )


def _piece_need(paper: PaperPiece, design: str, pegs: Iterable[Peg], shop: Shop) -> PieceNeed:
    size = paper.piece
    name = f"paper-{paper.paper.id}/{size.width_nm}x{size.height_nm}/{size.grain}"
    demands = tuple(_for_each(name, pegs, size.count * (1 + Fraction(shop.spoilage))))
    return PieceNeed(name, paper.paper, size, (design,), demands)


def merged(pieces: Iterable[PieceNeed]) -> tuple[PieceNeed, ...]:
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


def _of_goods(
    taking: Goods, material: Material, pegs: Iterable[Peg], together: int | None
) -> list[Demand]:
    """What the journals take of a material, its waste on top."""
    amount = taking.amount * (1 + Fraction(material.waste))
    if not taking.once:
        return _for_each(item_key(material), pegs, amount)
    batches: list[Peg] = []
    journals, so_far = 0, 0
    for peg in pegs:
        # The first journal of a batch brings what is used once for it.
        journals += peg.quantity
        begun = 1 if together is None else -(-journals // together)
        batches.append(replace(peg, quantity=begun - so_far))
        so_far = begun
    return [d for d in _for_each(item_key(material), batches, amount) if d.quantity]


def _for_each(thing: str, pegs: Iterable[Peg], each: Fraction | int) -> list[Demand]:
    """What so many of a journal take of a thing, ``each`` for one.

    Rounded up once over all of them, not for each demand; an earlier demand carries the odd one.
    """
    demands: list[Demand] = []
    journals, so_far = 0, 0
    for peg in pegs:
        journals += peg.quantity
        total = _up(journals * each)
        why = peg.demand
        demands.append(Demand(thing, total - so_far, why.by, why.reason, why.link))
        so_far = total
    return demands


def _up(value: Fraction | int) -> int:
    exact = Fraction(value)
    return -(-exact.numerator // exact.denominator)


def pieces_wanted(found: Needs) -> list[tuple[Paper, list[PieceNeed]]]:
    """The pieces of each paper."""
    by_paper: dict[int, list[PieceNeed]] = {}
    for need in found.pieces:
        by_paper.setdefault(need.paper.id, []).append(need)
    return [(rows[0].paper, rows) for rows in by_paper.values()]


def promised_to_others(session: Session, market: Market, on: date) -> dict[int, int]:
    """How many are promised beside a market, by variant: to orders, and to markets before it."""
    demands, _ = journal_demands(session, on, None)
    link, found = f"market-{market.id}", dict[int, int]()
    for demand in demands:
        sooner = demand.link.startswith("market-") and demand.by <= max(market.day, on)
        if demand.link != link and (sooner or demand.link.startswith("order-")):
            number = int(demand.thing.removeprefix("variant-"))
            found[number] = found.get(number, 0) + demand.quantity
    return found


def take_rows(session: Session, market: Market, on: date) -> dict[int, TakeRow]:
    """What of a market's list is here and what is still to make, by variant.

    Earlier orders and markets take from the shelf first, as they do for the buy list.
    """
    found = _netted(session, on)
    sold = sold_at(session, [market])[market.id]
    rows: dict[int, TakeRow] = {}
    for line in market.lines:
        key = item_key(line.variant)
        here = found.stock[key].quantity if key in found.stock else 0
        short = found.to_make.get(key)
        link = f"market-{market.id}"
        if short is None:
            rows[line.variant_id] = TakeRow(line.variant, line.take, here, 0, 0)
            continue
        to_make = sum(peg.quantity for peg in short.pegs if peg.demand.link == link)
        still = max(line.take - sold.get(line.variant_id, 0), 0)
        promised = here - (still - to_make) if to_make else 0
        rows[line.variant_id] = TakeRow(line.variant, line.take, here, max(promised, 0), to_make)
    return rows
