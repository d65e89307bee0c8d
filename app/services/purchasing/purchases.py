"""Purchases from suppliers: drafted from the buy list, sent, received in part or whole.

What came carries its landed cost: the price agreed and its share of the carriage by value, so
that the lots' costs add up to what was paid.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import flag_modified

from app.core.errors import DomainError
from app.core.money import MOST, share_out
from app.core.states import (
    PURCHASE_ON_ITS_WAY,
    PURCHASE_STATES,
    MovementKind,
    PurchaseState,
    check_step,
)
from app.language import say, say_many
from app.models import (
    Lot,
    Material,
    Movement,
    Offer,
    Purchase,
    PurchaseLine,
    Receipt,
    ReceiptLine,
    StockSheet,
    Supplier,
)
from app.services.planning.supply import came, item_of, lead_of
from app.services.purchasing.buy_lines import BuyLine
from app.services.purchasing.buy_list import BuyList, keep_cut_plans
from app.services.purchasing.reordering import Proposal
from app.services.shop.settings import check_version, next_number
from app.services.stock import ledger as stock

MOST_PACKS = 100_000


@dataclass(frozen=True)
class LineAsked:
    """So many packs of a thing, what is in one and what it costs."""

    item: StockSheet | Material
    packs: int
    pack_quantity: int
    pack_price: Decimal


def draft_purchases(session: Session, lines: Iterable[BuyLine | Proposal]) -> list[Purchase]:
    """A draft for each supplier with what the buy list, or the reorder page, says.

    What is drafted already counts as coming, so the list asks for what is missing besides, and
    asking twice orders nothing twice.
    """
    made: dict[int, Purchase] = {}
    for line in lines:
        supplier = line.offer.supplier
        purchase = made.get(supplier.id)
        if purchase is None:
            purchase = made[supplier.id] = draft_for(session, supplier)
        more_of(purchase, line.item, line.offer, line.packs)
    session.flush()
    return list(made.values())


def draft_buy_list(session: Session, found: BuyList) -> list[Purchase]:
    """Drafts for all that the list says; each paper keeps the cutting plan behind them."""
    keep_cut_plans(session, found)
    return draft_purchases(session, found.lines)


def draft_for(session: Session, supplier: Supplier) -> Purchase:
    """The draft to a supplier, begun now where there is none."""
    draft = session.scalar(
        select(Purchase)
        .where(Purchase.supplier_id == supplier.id, Purchase.state == PurchaseState.DRAFT)
        .order_by(Purchase.id)
        .limit(1)
        .with_for_update()
    )
    return draft or begin_purchase(session, supplier)


def begin_purchase(session: Session, supplier: Supplier) -> Purchase:
    """An empty draft."""
    purchase = Purchase(
        number=next_number(session, "purchase"),
        supplier=supplier,
        state=PurchaseState.DRAFT,
        note="",
    )
    session.add(purchase)
    session.flush()
    return purchase


def more_of(
    purchase: Purchase, item: StockSheet | Material, offer: Offer, packs: int
) -> PurchaseLine:
    """Put more packs of a thing on a draft, at the price that all of them earn.

    A price that the maker typed stays.
    """
    known = _line_with(purchase, item, offer)
    if known is not None:
        known.pack_price = _price_for(known, known.packs + packs)
        known.packs += packs
        return known
    line = _line(item, packs, offer.pack_quantity, earned_price(offer, packs))
    purchase.lines.append(line)
    return line


def earned_price(offer: Offer, packs: int) -> Decimal:
    """What a pack costs where so many are bought; the first price for fewer than it begins at."""
    earned = [price for least, price in offer.prices.items() if least <= packs]
    return min(earned, default=max(offer.prices.values()))


def _price_for(line: PurchaseLine, packs: int) -> Decimal:
    """The price of a pack of a line with another number of packs: its offer's, unless typed.

    It was typed where no offer of the supplier gives it for the packs there are.
    """
    for offer in item_of(line).offers:
        same = (offer.supplier_id, offer.pack_quantity) == (
            line.purchase.supplier_id, line.pack_quantity,
        )  # fmt: skip
        if same and earned_price(offer, line.packs) == line.pack_price:
            return earned_price(offer, packs)
    return line.pack_price


def _line_with(
    purchase: Purchase, item: StockSheet | Material, offer: Offer
) -> PurchaseLine | None:
    """The line of a draft that has the thing in packs of the offer's size."""
    same = (x for x in purchase.lines if item_of(x) is item)
    return next((x for x in same if x.pack_quantity == offer.pack_quantity), None)


def _line(item: StockSheet | Material, packs: int, quantity: int, price: Decimal) -> PurchaseLine:
    return PurchaseLine(
        stock_sheet=item if isinstance(item, StockSheet) else None,
        material=item if isinstance(item, Material) else None,
        packs=packs, pack_quantity=quantity, pack_price=price,
    )  # fmt: skip


def change_draft(
    session: Session,
    purchase: Purchase,
    packs: Mapping[int, int],
    prices: Mapping[int, Decimal],
    note: str,
    version: int | None,
) -> None:
    """Change a draft's packs and prices by line; a line of no packs is left out.

    Prices follow the packs, down or up, unless another price was typed.
    """
    check_version(purchase, version)
    _check_draft(purchase)
    # Its lines are part of it: changing them must make an older form stale.
    flag_modified(purchase, "state")
    for line in list(purchase.lines):
        wanted = packs.get(line.id, line.packs)
        if not 0 <= wanted <= MOST_PACKS:
            raise DomainError(
                say("Packs lie between 0 and {most}.", most=MOST_PACKS), f"packs_{line.id}"
            )
        price = prices.get(line.id, line.pack_price)
        if price == line.pack_price:
            price = _price_for(line, max(wanted, 1))
        if price < 0 or price * wanted >= MOST:
            raise DomainError(
                say("That is more money than this program counts: check packs and price."),
                f"price_{line.id}",
            )
        if wanted:
            line.packs, line.pack_price = wanted, price
        else:
            purchase.lines.remove(line)
    purchase.note = note
    session.flush()


def add_line(
    session: Session, purchase: Purchase, item: StockSheet | Material, packs: int, on: date
) -> PurchaseLine:
    """Put so many packs of a thing on a draft, at its supplier's offer of the day."""
    _check_draft(purchase)
    flag_modified(purchase, "state")
    if not 1 <= packs <= MOST_PACKS:
        raise DomainError(say("Packs lie between 1 and {most}.", most=MOST_PACKS), "packs")
    offers = [o for o in item.offers if o.supplier_id == purchase.supplier_id]
    offers = [o for o in offers if o.valid_from <= on]
    if not offers:
        raise DomainError(say("This supplier has no offer of it; add one first."), "item")
    offer: Offer = max(offers, key=lambda o: (o.valid_from, o.id))
    known = _line_with(purchase, item, offer)
    there = known.packs if known else 0
    if there + packs > MOST_PACKS:
        raise DomainError(
            say("With the {there} on it that is over {most} packs.", there=there, most=MOST_PACKS),
            "packs",
        )
    line = more_of(purchase, item, offer, packs)
    session.flush()
    return line


def send_purchase(session: Session, purchase: Purchase, on: date) -> None:
    """It was ordered: from now on it is on its way, expected after the longest lead time."""
    check_step(PURCHASE_STATES, purchase.state, PurchaseState.SENT, "purchase")
    if not purchase.lines:
        raise DomainError(say("There is nothing on it yet."))
    lead = max(lead_of(line, on) for line in purchase.lines)
    purchase.state, purchase.sent_on = PurchaseState.SENT, on
    purchase.expected_on = on + timedelta(days=lead)
    session.flush()


def expect_on(session: Session, purchase: Purchase, day: date) -> None:
    """The supplier said when it comes."""
    if purchase.state not in PURCHASE_ON_ITS_WAY:
        raise DomainError(
            say("This purchase is {state}; it is not on its way.", state=say(purchase.state))
        )
    if purchase.sent_on and day < purchase.sent_on:
        raise DomainError(say("It cannot come before it was ordered."), "expected_on")
    purchase.expected_on = day
    session.flush()


def cancel_purchase(session: Session, purchase: Purchase, version: int | None = None) -> None:
    """Nothing more of it is expected; what came stays."""
    check_version(purchase, version)
    check_step(PURCHASE_STATES, purchase.state, PurchaseState.CANCELLED, "purchase")
    purchase.state = PurchaseState.CANCELLED
    session.flush()


def draft_again(session: Session, purchase: Purchase) -> None:
    """Undo a cancellation: it is a draft again, to be looked over and sent."""
    check_step(PURCHASE_STATES, purchase.state, PurchaseState.DRAFT, "purchase")
    if standing_receipts(purchase):
        raise DomainError(say("Something of it has come; begin a new purchase for the rest."))
    purchase.state = PurchaseState.DRAFT
    purchase.sent_on = purchase.expected_on = None
    session.flush()


def standing_receipts(purchase: Purchase) -> list[Receipt]:
    """The receipts of which anything was not taken back."""
    return [
        receipt
        for receipt in purchase.receipts
        if not all(_taken_back(line.lot) for line in receipt.lines)
    ]


def _taken_back(lot: Lot) -> bool:
    received = {m.id for m in lot.movements if m.kind == MovementKind.RECEIVED}
    return any(m.reverses_id in received for m in lot.movements)


def _check_draft(purchase: Purchase) -> None:
    if purchase.state != PurchaseState.DRAFT:
        raise DomainError(
            say("This purchase is {state} and no draft any more.", state=say(purchase.state))
        )


def receive_purchase(
    session: Session,
    purchase: Purchase,
    packs: Mapping[int, int],
    carriage: Decimal,
    on: date,
    version: int | None = None,
) -> Receipt:
    """Take in what came, by line; the carriage is shared over it by value.

    More than was ordered is refused; with all of it here the purchase is received.
    """
    if version is not None:
        check_version(purchase, version)
    if purchase.state not in PURCHASE_ON_ITS_WAY:
        raise DomainError(
            say("This purchase is {state}; nothing of it is on its way.", state=say(purchase.state))
        )
    if purchase.sent_on is not None and on < purchase.sent_on:
        raise DomainError(say("It cannot have come before it was ordered."), "on")
    if carriage < 0:
        raise DomainError(say("Carriage cannot be below nothing."), "carriage")
    lines = [line for line in purchase.lines if packs.get(line.id)]
    if not lines:
        raise DomainError(say("Say how many packs came, of at least one line."), "form")
    here = came(session, purchase.lines)
    for line in lines:
        missing = line.packs - here[line.id]
        if not 0 < packs[line.id] <= missing:
            raise DomainError(
                say_many(
                    missing,
                    "{n} is still to come, not {came}. What came besides is received on its own "
                    "page.",
                    "{n} are still to come, not {came}. What came besides is received on its own "
                    "page.",
                    came=packs[line.id],
                ),
                f"came_{line.id}",
            )
    flag_modified(purchase, "state")
    receipt = Receipt(purchase=purchase, came_on=on, carriage=carriage)
    session.add(receipt)
    for line, cost in zip(lines, landed(lines, packs, carriage), strict=True):
        lot = stock.receive(
            session, item_of(line), packs[line.id] * line.pack_quantity, cost, on,
            note=say("Purchase {number}", number=purchase.number),
        )  # fmt: skip
        receipt.lines.append(ReceiptLine(line=line, lot=lot, packs=packs[line.id]))
    whole = all(here[x.id] + (packs.get(x.id) or 0) >= x.packs for x in purchase.lines)
    purchase.state = PurchaseState.RECEIVED if whole else PurchaseState.PART_RECEIVED
    session.flush()
    return receipt


def landed(
    lines: Sequence[PurchaseLine], packs: Mapping[int, int], carriage: Decimal
) -> list[Decimal]:
    """What each line cost, its share of the carriage by value in it; they add up exactly.

    Where nothing costs anything the carriage is shared by packs.
    """
    values = [packs[line.id] * line.pack_price for line in lines]
    weights = values if any(values) else [Decimal(packs[line.id]) for line in lines]
    shares = share_out(carriage, weights, stock.STEP)
    return [value + share for value, share in zip(values, shares, strict=True)]


def undo_receipt(session: Session, receipt: Receipt, why: str) -> None:
    """Take back a receipt that was written down wrongly; its purchase is on its way again."""
    for line in receipt.lines:
        movement = session.scalars(
            select(Movement).where(
                Movement.lot_id == line.lot_id, Movement.kind == MovementKind.RECEIVED
            )
        ).one()
        stock.reverse(session, movement, why, together=True)
    purchase = receipt.purchase
    some = any(came(session, purchase.lines).values())
    if purchase.state in (PurchaseState.RECEIVED, *PURCHASE_ON_ITS_WAY):
        purchase.state = PurchaseState.PART_RECEIVED if some else PurchaseState.SENT
    session.flush()


@dataclass(frozen=True)
class PaidOn:
    """What a pack, or a unit, cost on a day, and from whom."""

    on: date
    supplier: str
    each: Decimal
    bought: bool
    """Paid in a purchase; else only offered."""


def price_history(session: Session, item: StockSheet | Material) -> list[PaidOn]:
    """What one base unit of a thing was offered for or cost, the oldest first."""
    column = (
        PurchaseLine.stock_sheet_id if isinstance(item, StockSheet) else PurchaseLine.material_id
    )
    rows = [
        PaidOn(
            o.valid_from, o.supplier.name, max(o.prices.values()) / o.pack_quantity, bought=False
        )
        for o in item.offers
    ]
    query = (
        select(PurchaseLine, Purchase)
        .join(PurchaseLine.purchase)
        .where(column == item.id, Purchase.sent_on.is_not(None))
    )
    for line, purchase in session.execute(query):
        if purchase.sent_on is None:
            continue
        rows.append(
            PaidOn(
                purchase.sent_on, purchase.supplier.name, line.pack_price / line.pack_quantity,
                bought=True,
            )
        )  # fmt: skip
    return sorted(rows, key=lambda r: (r.on, r.supplier))
