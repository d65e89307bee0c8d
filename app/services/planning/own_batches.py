"""Batches begun for an order: what is in progress for it and counts for nobody else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.planning.requirements import Demand, Shortage
from app.core.states import BatchState
from app.models import Batch, BatchLine, OrderLine
from app.services.planning.capacity import key_of


def without_their_own(
    session: Session, demands: Sequence[Demand]
) -> tuple[list[Demand], dict[str, dict[str, int]]]:
    """Demands less what is in progress for them and for nobody else; that, by item and demand."""
    rows = session.execute(
        select(BatchLine.variant_id, OrderLine.order_id, func.sum(BatchLine.left))
        .join(BatchLine.batch)
        .join(OrderLine, OrderLine.id == BatchLine.order_line_id)
        .where(Batch.state == BatchState.IN_PROGRESS)
        .group_by(BatchLine.variant_id, OrderLine.order_id)
    )
    left = {(f"variant-{v}", f"order-{order}"): int(n) for v, order, n in rows}
    others: list[Demand] = []
    own: dict[str, dict[str, int]] = {}
    for demand in demands:
        some = min(demand.quantity, left.get((demand.thing, demand.link), 0))
        if some:
            left[demand.thing, demand.link] -= some
            gets = own.setdefault(demand.thing, {})
            gets[key_of(demand)] = gets.get(key_of(demand), 0) + some
        if demand.quantity > some:
            others.append(replace(demand, quantity=demand.quantity - some))
    return others, own


def with_own(
    key: str,
    demands: Sequence[Demand],
    number: int,
    others: Mapping[str, Shortage],
    there: Mapping[str, int],
) -> Shortage:
    """What is short of a thing, with those who have some of it in progress among who wants it."""
    every = tuple(sorted((d for d in demands if d.thing == key), key=lambda d: (d.by, d.link)))
    needed = sum(demand.quantity for demand in every)
    pegs = others[key].pegs if key in others else ()
    return Shortage(key, needed, number + there.get(key, 0), pegs, every)
