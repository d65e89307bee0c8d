"""The ticket of a batch, to print and lay on the bench: what to take, how to cut, how to make."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, render_template

from app.core.errors import DomainError
from app.models import Batch, Variant
from app.services.bench.materials import taken
from app.services.bench.operations import operations_of
from app.services.designs.journals import estimate_by
from app.services.stock.ledger import thing_of
from app.web.bench.cuts import cuts_of
from app.web.frame.how_made import HoleRow, HowMade, hole_rows, how_made
from app.web.frame.session import db, need, prices

pages = Blueprint("ticket", __name__, url_prefix="/stockroom/batches")


@dataclass(frozen=True)
class Made:
    """A journal of a batch: how it is made, or why that cannot be worked out any more."""

    variant: Variant
    quantity: int
    how: HowMade | None
    why_not: str = ""

    @property
    def holes(self) -> list[HoleRow]:
        """Where its holes go."""
        return hole_rows(self.how.worked.build) if self.how else []


def _made(batch: Batch) -> list[Made]:
    """Each journal once, however many orders of the batch are for it."""
    numbers: dict[Variant, int] = {}
    for line in batch.lines:
        numbers[line.variant] = numbers.get(line.variant, 0) + line.quantity
    found = []
    for variant, number in numbers.items():
        try:
            how = how_made(variant, estimate_by(prices(), variant, number), f"j{variant.id}-")
            found.append(Made(variant, number, how))
        except DomainError as error:
            found.append(Made(variant, number, None, error.message))
    return found


@pages.get("/<int:batch_id>/ticket")
def page(batch_id: int) -> str:
    """All that the bench needs for a batch, on paper."""
    batch = need(Batch, batch_id)
    work = operations_of(db(), batch)
    return render_template(
        "bench/ticket.html", batch=batch, made=_made(batch), taken=taken(db(), batch),
        cuts=cuts_of(batch), work=work, thing_of=thing_of,
        planned=sum((one.row.planned for one in work), start=0),
    )  # fmt: skip
