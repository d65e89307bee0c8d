"""The forms of what came out of a batch: all that is left of it, or a part."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from wtforms import BooleanField, HiddenField

from app.core.errors import DomainError
from app.core.states import BatchState
from app.models import Batch, BatchLine
from app.services.stock.ledger import measure_of
from app.web.frame.fields import Form, MinutesField, Needed, QuantityField, WholeField, text_field
from app.web.frame.filters import quantity


def finish_form(batch: Batch, minutes: Decimal) -> Any:
    class Finish(Form):
        shown = HiddenField()

    start: dict[str, Any] = {"minutes": minutes, "shown": _left_said(batch)}
    Finish.minutes = MinutesField(
        "Minutes it took",
        [Needed()],
        description="As logged below, as planned where nothing was; put in your own."
        if batch.minutes is None
        else "For what is left: the minutes told for what is finished already count besides.",
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


def _left_said(batch: Batch) -> str:
    """How many of each line are left, as a form carries it along."""
    return " ".join(f"{line.id}:{line.left}" for line in batch.lines)


def as_shown(batch: Batch, form: Any) -> None:
    """Refuse a form of a batch of which more came out since it was shown; the next one is anew."""
    if batch.state != BatchState.IN_PROGRESS:
        # Then that is what is said.
        return
    now = _left_said(batch)
    if form.shown.data and form.shown.data != now:
        form.shown.raw_data, form.shown.data = None, now
        raise DomainError(
            "More of it came out in another window after you opened this. See how many are left, "
            "and press again.",
            "form",
        )


def _line_said(line: BatchLine) -> str:
    wanted = line.order_line
    order = f", for order {wanted.order.number}" if wanted else ""
    request = f" ({wanted.asked_for[:60]})" if wanted and wanted.asked_for else ""
    return line.variant.full_name + order + request


def _of(line: BatchLine) -> str:
    """Which line is meant, where a batch has several."""
    return f"of {_line_said(line)} " if len(line.batch.lines) > 1 else ""


def part_form(batch: Batch, **more: Any) -> Any:
    """Of each line how many are finished by now, how many are spoiled and why; and the minutes."""

    class Some(Form):
        shown = HiddenField()

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
        description="In all, what is logged for them included; those of the rest come when it "
        "is finished.",
    )  # fmt: skip
    return Some(data={"shown": _left_said(batch)}, **more)
