"""The ticket of a batch, to print and lay on the bench: what to take, how to cut, how to make."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from flask import Blueprint, render_template

from app.core.errors import DomainError
from app.core.planning.requirements import Demand
from app.core.states import BatchState
from app.models import Batch, Order, OrderPhoto, Variant
from app.services.bench.batches import begun_on
from app.services.bench.board import the_bench
from app.services.bench.cut_papers import cut_papers
from app.services.bench.finishing import set_aside_of
from app.services.bench.materials import corrections, taken
from app.services.bench.operations import operations_of
from app.services.designs.journals import estimate_by
from app.services.orders.photos import photos_of
from app.services.stock.ledger import thing_of
from app.services.stock.recipes import recipe_of
from app.web.bench.cuts import cuts_of
from app.web.frame.filters import size
from app.web.frame.how_made import HoleRow, HowMade, hole_rows, how_made
from app.web.frame.session import db, find, need, prices, today

pages = Blueprint("ticket", __name__, url_prefix="/stockroom/batches")


@dataclass(frozen=True)
class Made:
    """A journal of a batch: what was asked for it, how it is made, or why that is not known.

    ``changed`` are pieces whose size is another by now than the one it is cut to.
    """

    variant: Variant
    quantity: int
    asked_for: tuple[tuple[int, str], ...]
    photos: tuple[OrderPhoto, ...]
    how: HowMade | None
    why_not: str = ""
    changed: tuple[str, ...] = ()

    @property
    def holes(self) -> list[HoleRow]:
        """Where its holes go."""
        return hole_rows(self.how.worked.build) if self.how else []


def _made(batch: Batch) -> list[Made]:
    """Each journal once, however many orders of the batch are for it."""
    numbers: dict[Variant, int] = {}
    asked: dict[Variant, list[tuple[int, str]]] = {}
    orders: dict[Variant, dict[Order, None]] = {}
    for line in batch.lines:
        numbers[line.variant] = numbers.get(line.variant, 0) + line.quantity
        wanted = line.order_line
        if wanted is not None:
            orders.setdefault(line.variant, {})[wanted.order] = None
        if wanted is not None and wanted.asked_for:
            asked.setdefault(line.variant, []).append((wanted.order.number, wanted.asked_for))
    cut = {
        (piece.name, piece.width_nm, piece.height_nm)
        for paper in cut_papers(db(), batch)
        for piece in paper.pieces.values()
    }
    found = []
    for variant, number in numbers.items():
        requests = tuple(asked.get(variant, ()))
        photos = tuple(
            photo for order in orders.get(variant, {}) for photo in photos_of(db(), order)
        )
        try:
            how = how_made(variant, estimate_by(prices(), variant, number), f"j{variant.id}-")
        except DomainError as error:
            found.append(Made(variant, number, requests, photos, None, error.message))
            continue
        found.append(Made(variant, number, requests, photos, how, changed=_changed(how, cut)))
    return found


def _changed(how: HowMade, cut: set[tuple[str, int, int]]) -> tuple[str, ...]:
    """Pieces as they would be cut by now, where the batch is cut to other sizes."""
    now = [row.piece for row in how.worked.papers]
    return tuple(
        f"{piece.named(1)} {size(piece.width_nm, piece.height_nm)}"
        for piece in now
        if cut and (piece.name, piece.width_nm, piece.height_nm) not in cut
    )


def _waiting(batch: Batch) -> list[tuple[Demand, Order | None]]:
    """Who waits for what of a batch is tied to no order, with the order where it is one."""
    if batch.state != BatchState.IN_PROGRESS or all(line.order_line for line in batch.lines):
        return []
    going = next((g for g in the_bench(db(), today()).going if g.batch.id == batch.id), None)
    tied = {line.order_line.order_id for line in batch.lines if line.order_line}
    found = {}
    for demand in going.demands if going else ():
        kind, _, number = demand.link.partition("-")
        order = find(Order, int(number)) if kind == "order" else None
        if order is None or order.id not in tied:
            found[demand.link] = (demand, order)
    return list(found.values())


@pages.get("/<int:batch_id>/ticket")
def page(batch_id: int) -> str:
    """All that the bench needs for a batch, on paper."""
    batch = need(Batch, batch_id)
    work, waiting = operations_of(db(), batch), _waiting(batch)
    return render_template(
        "bench/ticket.html", batch=batch, made=_made(batch), taken=taken(db(), batch),
        cuts=cuts_of(batch) if batch.state != BatchState.CANCELLED else [], work=work,
        thing_of=thing_of, waiting=waiting, aside=set_aside_of(db(), batch),
        waiting_photos=[p for _, order in waiting if order for p in photos_of(db(), order)],
        begun=begun_on(db(), [batch]).get(batch.id), corrections=corrections(db(), batch),
        recipes=[(line, recipe_of(db(), line.item)) for line in batch.goods],
        planned=sum((one.row.planned for one in work), start=Decimal(0)),
    )  # fmt: skip
