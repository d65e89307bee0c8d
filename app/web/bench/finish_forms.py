"""The forms of what came out of a batch: all that is left of it, or a part."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from wtforms import BooleanField

from app.models import Batch, BatchLine
from app.services.stock.ledger import measure_of
from app.web.frame.fields import Form, MinutesField, Needed, QuantityField, WholeField, text_field
from app.web.frame.filters import quantity


def finish_form(batch: Batch, minutes: Decimal) -> Any:
    class Finish(Form):
        pass

    start: dict[str, Any] = {"minutes": minutes}
    Finish.minutes = MinutesField(
        "Minutes it took",
        [Needed()],
        description="As logged below, as planned where nothing was; put in your own.",
    )
    for line in batch.lines:
        if not line.left:
            continue
        field = WholeField(
            f"Good ones of {line.left} {_line_said(line)}", [Needed()], least=0, most=line.left
        )
        setattr(Finish, f"good_{line.id}", field)
        setattr(Finish, f"why_{line.id}", text_field(f"Why, if some {_of(line)}were spoiled"))
        start[f"good_{line.id}"] = line.left
    for made in batch.goods:
        measure = measure_of(made.item)
        shown = quantity(made.expected, made.item)
        field = QuantityField(f"Good of {shown} expected", [Needed()], measure=measure)
        setattr(Finish, f"good_{made.id}", field)
        start[f"good_{made.id}"] = made.expected
        Finish.all_lost = BooleanField("All of it was lost")
    return Finish(data=start)


def _line_said(line: BatchLine) -> str:
    order = f", for order {line.order_line.order.number}" if line.order_line else ""
    return line.variant.full_name + order


def _of(line: BatchLine) -> str:
    """Which line is meant, where a batch has several."""
    return f"of {_line_said(line)} " if len(line.batch.lines) > 1 else ""


def part_form(batch: Batch, **more: Any) -> Any:
    """Of each line how many are finished by now, how many are spoiled and why; and the minutes."""

    class Some(Form):
        pass

    for line in batch.lines:
        if line.left:
            said = f"of {line.left} {_line_said(line)}"
            good = WholeField(f"Good ones {said}", least=0, most=line.left)
            setattr(Some, f"good_{line.id}", good)
            spoiled = WholeField(f"Spoiled {_of(line)}".strip(), least=0, most=line.left)
            setattr(Some, f"spoiled_{line.id}", spoiled)
            setattr(Some, f"why_{line.id}", text_field(f"Why {_of(line)}".strip()))
    Some.minutes = MinutesField(
        "Minutes these took", [Needed()],
        description="They pay for these; type the minutes of the rest when it is finished.",
    )  # fmt: skip
    return Some(**more)
