"""Stock: lots received, counted and taken; on hand is always the sum of movements."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from sqlalchemy import ColumnElement, and_, exists, func, select
from sqlalchemy.orm import Session, aliased

from app.core.errors import DomainError
from app.core.ledger import Draw, OpenLot, draw, draw_chosen
from app.core.money import half_up
from app.core.states import MovementKind
from app.language import say, to_say
from app.models import Lot, Material, Movement, ReceiptLine, StockSheet, Variant
from app.models.stock import OPEN
from app.services.shop.moments import moment_of
from app.services.shop.settings import the_shop

STEP = Decimal("0.0001")
"""The finest share of a lot's cost that is kept."""

ONLY_LESS = {
    "used at the bench": to_say("There is more than there was, so it was not used at the bench."),
    "spoiled": to_say("There is more than there was, so it was not spoiled."),
    "sold": to_say("There is more than there was, so it was not sold."),
}
"""Reasons for which there can only be less than before, and what is said where there is more."""

Item = StockSheet | Material | Variant


def item_key(item: Item) -> str:
    """``sheet-3``, ``material-7``, ``variant-2``: one word for any thing in stock."""
    kind = {StockSheet: "sheet", Material: "material", Variant: "variant"}[type(item)]
    return f"{kind}-{item.id}"


def key_of(sheet: int | None, material: int | None, variant: int | None) -> str:
    """The item key of what a lot is of, by its three columns."""
    if sheet:
        return f"sheet-{sheet}"
    return f"material-{material}" if material else f"variant-{variant}"


def find_item(session: Session, key: str) -> Item | None:
    """The thing behind an item key, or None."""
    kind, _, number = key.partition("-")
    if not number.isdecimal() or len(number) > 9:
        return None
    if kind == "sheet":
        return session.get(StockSheet, int(number))
    if kind == "material":
        return session.get(Material, int(number))
    return session.get(Variant, int(number)) if kind == "variant" else None


def _column_of(item: Item) -> str:
    return {StockSheet: "stock_sheet_id", Material: "material_id", Variant: "variant_id"}[
        type(item)
    ]


def measure_of(item: Item) -> str:
    """What a thing in stock is counted by: ``length``, ``area``, … or ``count``."""
    return "count" if isinstance(item, Variant) else item.measure or "count"


def _one_by_one(item: Item) -> bool:
    """Whether each lot of it is one thing, that goes out at its own cost: a length off a roll."""
    return isinstance(item, StockSheet) and item.by_length


def of_item(item: Item) -> ColumnElement[bool]:
    """Of lots: they are of this thing."""
    return getattr(Lot, _column_of(item)) == item.id  # type: ignore[no-any-return]


def on_the_shelf() -> ColumnElement[bool]:
    """Of lots: they can be counted and taken; no offcuts, set aside for nobody, at no shop."""
    return and_(Lot.offcut_width_nm.is_(None), Lot.order_line_id.is_(None), Lot.outlet_id.is_(None))


def thing_of(lot: Lot) -> Item:
    """What a lot is of."""
    thing = lot.stock_sheet or lot.material or lot.variant
    if thing is None:
        raise AssertionError("a lot is of something")
    return thing


def still_stands() -> ColumnElement[bool]:
    """Of movements: nothing has undone them since."""
    undoing = aliased(Movement)
    return ~exists().where(undoing.reverses_id == Movement.id)


@dataclass(frozen=True)
class Holding:
    """How much of a thing is here, in base units, and what it cost."""

    quantity: int
    cost: Decimal


def holdings(session: Session) -> dict[str, Holding]:
    """Everything on the shelf by item key; offcuts count as no sheets, nor what is set aside."""
    query = (
        select(
            Lot.stock_sheet_id, Lot.material_id, Lot.variant_id,
            func.sum(Lot.left_quantity), func.sum(Lot.left_cost),
        )
        .where(OPEN, on_the_shelf())
        .group_by(Lot.stock_sheet_id, Lot.material_id, Lot.variant_id)
    )  # fmt: skip
    found: dict[str, Holding] = {}
    for sheet, material, variant, quantity, cost in session.execute(query):
        found[key_of(sheet, material, variant)] = Holding(int(quantity), cost)
    return found


def held_aside(session: Session) -> dict[str, Holding]:
    """Journals that are set aside for orders and not delivered, by item key."""
    rows = session.execute(
        select(Lot.variant_id, func.sum(Lot.left_quantity), func.sum(Lot.left_cost))
        .where(OPEN, Lot.order_line_id.is_not(None))
        .group_by(Lot.variant_id)
    )
    return {f"variant-{number}": Holding(int(n), cost) for number, n, cost in rows}


def on_hand(session: Session, item: Item) -> int:
    """How much of a thing is here: the sum of its movements."""
    return _in_all(session, item)[0]


def _in_all(session: Session, item: Item) -> tuple[int, Decimal]:
    """What is on the shelf of a thing, and the cost on it."""
    query = select(func.sum(Lot.left_quantity), func.sum(Lot.left_cost)).where(
        OPEN, of_item(item), on_the_shelf()
    )
    quantity, cost = session.execute(query).one()
    return int(quantity or 0), cost or Decimal(0)


def open_lots(session: Session, item: Item) -> list[OpenLot]:
    """Lots with something left, oldest first, locked until the transaction ends.

    Emptied ones on which a valuation left some cost are among them.
    """
    # PostgreSQL locks the rows; SQLite holds its one write lock already and ignores this.
    lots = session.execute(
        select(Lot.id, Lot.left_quantity, Lot.left_cost)
        .where(OPEN, of_item(item), on_the_shelf())
        .order_by(Lot.came_on, Lot.id)
        .with_for_update()
    ).all()
    pooled_to = 0 if _one_by_one(item) else the_shop(session).averaged_up_to or 0
    return [OpenLot(lot, int(n), cost, pooled=lot <= pooled_to) for lot, n, cost in lots]


def check_receipt(quantity: int, cost: Decimal) -> None:
    """Refuse to take in nothing, or at less than nothing."""
    if quantity < 1:
        raise DomainError(say("How much came in? It must be more than nothing."), "quantity")
    if cost < 0:
        raise DomainError(say("What came in cannot cost less than nothing."), "cost")


def receive(
    session: Session,
    item: Item,
    quantity: int,
    cost: Decimal,
    on: date,
    *,
    kind: MovementKind = MovementKind.RECEIVED,
    note: str = "",
    batch_id: int | None = None,
    offcut_nm: tuple[int, int] | None = None,
    parent_id: int | None = None,
    order_id: int | None = None,
    order_line_id: int | None = None,
    outlet_id: int | None = None,
    made_in: int | None = None,
) -> Lot:
    """Receive a lot: a quantity of something, and what all of it cost.

    An offcut is a lot of its own, with its size and the lot it was cut from; journals that only
    change their place were ``made_in`` a batch before.
    """
    check_receipt(quantity, cost)
    width, height = offcut_nm or (None, None)
    lot = Lot(
        came_on=on, cost=cost, note=note, batch_id=batch_id or made_in, parent_id=parent_id,
        offcut_width_nm=width, offcut_height_nm=height, order_line_id=order_line_id,
        outlet_id=outlet_id,
        **{_column_of(item): item.id},
    )  # fmt: skip
    session.add(lot)
    session.flush()
    move(
        session, lot.id, kind, quantity, cost, on=on, note=note, batch_id=batch_id,
        order_id=order_id,
    )  # fmt: skip
    return lot


def move(
    session: Session,
    lot_id: int,
    kind: MovementKind,
    quantity: int,
    cost: Decimal,
    *,
    on: date | None = None,
    note: str = "",
    order_id: int | None = None,
    batch_id: int | None = None,
    market_id: int | None = None,
    reverses_id: int | None = None,
) -> Movement:
    """Write down that so much more, or less, is in a lot, and what it costs."""
    movement = Movement(
        lot_id=lot_id, kind=kind, quantity=quantity, cost=cost, at=moment_of(on), note=note,
        order_id=order_id, batch_id=batch_id, market_id=market_id, reverses_id=reverses_id,
    )  # fmt: skip
    session.add(movement)
    session.flush()
    return movement


def take(
    session: Session,
    item: Item,
    quantity: int,
    kind: MovementKind,
    *,
    on: date | None = None,
    note: str = "",
    order_id: int | None = None,
    batch_id: int | None = None,
) -> Decimal:
    """Take a quantity from the oldest lots, today or on a day that is written up later; returns
    its cost. Refused where there is too little.

    The shop's setting says at which cost: first in first out, or the weighted average.
    """
    draws = _oldest_first(session, item, quantity)
    return _cost_of(
        _write_down(session, draws, kind, on, note, order_id=order_id, batch_id=batch_id)
    )


def take_to_market(
    session: Session, variant: Variant, quantity: int, kind: MovementKind, market_id: int,
    on: date, note: str,
) -> list[Movement]:  # fmt: skip
    """Take journals that were sold or lost at a market from the oldest lots; what was written."""
    draws = _oldest_first(session, variant, quantity)
    return _write_down(session, draws, kind, on, note, market_id=market_id)


def _oldest_first(session: Session, item: Item, quantity: int) -> list[Draw]:
    valuation = "fifo" if _one_by_one(item) else the_shop(session).valuation
    return draw(open_lots(session, item), quantity, STEP, valuation)


def _cost_of(taken: Iterable[Movement]) -> Decimal:
    """What left the lots with some movements."""
    return -sum((movement.cost for movement in taken), Decimal(0))


def take_from(
    session: Session,
    lot: Lot,
    quantity: int,
    kind: MovementKind,
    *,
    on: date | None = None,
    note: str = "",
    batch_id: int | None = None,
    order_id: int | None = None,
) -> Movement:
    """Take some of one lot by its own cost, as of an offcut; what was written down."""
    found = [OpenLot(lot.id, *left_of(session, lot))]
    draws = draw_chosen(found, {lot.id: quantity}, STEP)
    [taken] = _write_down(session, draws, kind, on, note, order_id=order_id, batch_id=batch_id)
    return taken


def give_back(
    session: Session, lot: Lot, quantity: int, cost: Decimal, *, on: date, note: str, batch_id: int
) -> None:
    """Put so much back into the lot it was taken from, at what it left for."""
    move(
        session, lot.id, MovementKind.RETURNED, quantity, cost, on=on, note=note, batch_id=batch_id
    )


def left_of(session: Session, lot: Lot) -> tuple[int, Decimal]:
    """What is left of a lot, and the cost still on it."""
    row = session.execute(select(Lot.left_quantity, Lot.left_cost).where(Lot.id == lot.id)).one()
    return int(row.left_quantity), row.left_cost


def _write_down(
    session: Session, draws: Iterable[Draw], kind: MovementKind, on: date | None, note: str,
    **belongs_to: int | None,
) -> list[Movement]:  # fmt: skip
    return [
        move(session, taken.lot, kind, -taken.quantity, -taken.cost, on=on, note=note, **belongs_to)
        for taken in draws
    ]


def count(
    session: Session, item: Item, counted: int, on: date, why: str, expected: int | None = None,
    unknown: Callable[[], Fraction] = lambda: Fraction(0),
) -> int:  # fmt: skip
    """Write down what was counted; the difference becomes a movement with its reason.

    Less than expected is taken from the oldest lots; more becomes a lot of its own at the cost
    of the newest one, or at ``unknown`` for a unit where none ever came in. ``expected`` is what
    the page showed: refused where it changed meanwhile.
    Returns the difference.
    """
    if counted < 0:
        raise DomainError(say("A count cannot be below nothing."), "counted")
    # PostgreSQL: two counts of one thing wait for one another; SQLite has one writer anyway.
    session.execute(select(type(item).id).where(type(item).id == item.id).with_for_update())
    here = on_hand(session, item)
    if expected is not None and expected != here:
        raise DomainError(
            say(
                "Something was received or taken while you counted. The newest figure stands "
                "beside your count; check it and save again."
            ),
            "counted",
        )
    difference = counted - here
    if difference and not why.strip():
        raise DomainError(say("Say why it differs: used, spoiled, found, miscounted."), "why")
    if difference > 0 and why in ONLY_LESS:
        raise DomainError(
            say(ONLY_LESS[why])
            + " "
            + say("Check the unit and the count, or say that it was found or miscounted."),
            "why",
        )
    if difference < 0:
        take(session, item, -difference, MovementKind.COUNTED, on=on, note=why)
    elif difference > 0:
        newest = _newest_unit_cost(session, item)
        each = unknown() if newest is None else newest
        cost = half_up(each * difference, STEP)
        receive(session, item, difference, cost, on, kind=MovementKind.COUNTED, note=why)
    return difference


def _newest_unit_cost(session: Session, item: Item) -> Fraction | None:
    newest = session.execute(
        select(Lot.cost, Movement.quantity)
        .join(Movement.lot)
        .where(
            of_item(item),
            Movement.kind.in_((MovementKind.RECEIVED, MovementKind.OPENING, MovementKind.MADE)),
            still_stands(),
        )
        .order_by(Lot.came_on.desc(), Lot.id.desc())
        .limit(1)
    ).first()
    return Fraction(newest[0]) / newest[1] if newest else None


def reverse(session: Session, movement: Movement, why: str, *, together: bool = False) -> Movement:
    """Undo a movement by its opposite, once; refused where a lot would fall below nothing.

    What came with a purchase, and what went into a batch or out of it, goes back ``together`` with
    all that belongs to it, never by itself.
    """
    if not together:
        _belongs_to_nothing_larger(session, movement)
    if movement.kind == MovementKind.REVERSED:
        raise DomainError(say("This undoes another movement already."))
    if session.scalar(select(Movement.id).where(Movement.reverses_id == movement.id)):
        raise DomainError(say("This movement has been undone already."))
    if left_of(session, movement.lot)[0] - movement.quantity < 0:
        raise DomainError(
            say("Some of what came in with this has been taken since; count it instead.")
        )
    _cost_stays_whole(session, movement)
    return move(
        session, movement.lot_id, MovementKind.REVERSED, -movement.quantity, -movement.cost,
        note=why, order_id=movement.order_id, batch_id=movement.batch_id,
        market_id=movement.market_id, reverses_id=movement.id,
    )  # fmt: skip


def _belongs_to_nothing_larger(session: Session, movement: Movement) -> None:
    receipt = select(ReceiptLine.id).where(ReceiptLine.lot_id == movement.lot_id)
    if movement.kind == MovementKind.RECEIVED and session.scalar(receipt):
        raise DomainError(say("This came with a purchase: take the receipt back on its page."))
    if movement.batch_id is not None:
        raise DomainError(
            say(
                "This belongs to a batch: one in progress can be cancelled on its page; of one "
                "that is made, count what is in stock instead."
            )
        )
    if movement.order_id is not None or movement.lot.order_line_id is not None:
        raise DomainError(
            say(
                "This belongs to an order: what is set aside, delivered or came back is put right "
                "on its page."
            )
        )
    if movement.market_id is not None:
        raise DomainError(
            say("This was sold or lost at a market: put it right on the market's page.")
        )
    if movement.kind == MovementKind.SET_ASIDE or movement.lot.outlet_id is not None:
        raise DomainError(
            say("This belongs to a shop that sells for you: put it right on its page.")
        )
    if movement.kind == MovementKind.CUT:
        raise DomainError(
            say("Cutting cannot be undone in part: count the sheets, and take the offcuts away.")
        )


def _cost_stays_whole(session: Session, movement: Movement) -> None:
    """Refuse to undo what would leave cost without a thing, or a thing at less than nothing.

    At the weighted average some of what a lot cost has gone out with others.
    """
    lot = movement.lot
    if lot.offcut_width_nm is not None or lot.order_line_id or lot.outlet_id:
        return
    quantity, cost = _in_all(session, thing_of(lot))
    quantity, cost = quantity - movement.quantity, cost - movement.cost
    if cost < 0 or (not quantity and cost):
        raise DomainError(
            say("Some of its cost has gone out with others, at the average; count it instead.")
        )
