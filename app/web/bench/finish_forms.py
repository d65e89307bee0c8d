"""The forms of what came out of a batch: all that is left of it, or a part."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from wtforms import BooleanField, HiddenField

from app.core.errors import DomainError
from app.core.states import BatchState
from app.language import say
from app.models import Batch, BatchLine
from app.services.stock.ledger import measure_of
from app.web.frame.fields import Form, MinutesField, Needed, QuantityField, WholeField, text_field
from app.web.frame.filters import quantity


def finish_form(batch: Batch, minutes: Decimal) -> Any:
    class Finish(Form):
        shown = HiddenField()

    start: dict[str, Any] = {"minutes": minutes, "shown": _left_said(batch)}
    Finish.minutes = MinutesField(
        say("Minutes it took"),
        [Needed()],
        description=say("As logged below, as planned where nothing was; put in your own.")
        if batch.minutes is None
        else say("For what is left: the minutes told for what is finished already count besides."),
    )
    for line in batch.lines:
        if not line.left:
            continue
        field = WholeField(_good_ones(line), [Needed()], least=0, most=line.left)
        setattr(Finish, f"good_{line.id}", field)
        why = (
            say("Why, if some of {journal} were spoiled", journal=_line_said(line))
            if _one_of_several(line)
            else say("Why, if some were spoiled")
        )
        setattr(Finish, f"why_{line.id}", text_field(why))
        start[f"good_{line.id}"] = line.left
    for made in batch.goods:
        measure = measure_of(made.item)
        label = say("Good of {much} expected", much=quantity(made.expected, made.item))
        field = QuantityField(label, [Needed()], measure=measure)
        setattr(Finish, f"good_{made.id}", field)
        start[f"good_{made.id}"] = made.expected
        Finish.all_lost = BooleanField(say("All of it was lost"))
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
            say(
                "More of it came out in another window after you opened this. See how many are "
                "left, and press again."
            ),
            "form",
        )


def _line_said(line: BatchLine) -> str:
    """A journal, for whom it is, and what was asked of it."""
    name, wanted = line.variant.full_name, line.order_line
    if not wanted:
        return name
    said = say("{journal}, for order {number}", journal=name, number=wanted.order.number)
    return said + (f" ({wanted.asked_for[:60]})" if wanted.asked_for else "")


def _good_ones(line: BatchLine) -> str:
    return say("Good ones of {number} {journal}", number=line.left, journal=_line_said(line))


def _one_of_several(line: BatchLine) -> bool:
    """Whether it must be said which line is meant."""
    return len(line.batch.lines) > 1


def part_form(batch: Batch, **more: Any) -> Any:
    """Of each line how many are finished by now, how many are spoiled and why; and the minutes."""

    class Some(Form):
        shown = HiddenField()

    for line in batch.lines:
        if line.left:
            spoiled, why = say("Spoiled"), say("Why")
            if _one_of_several(line):
                spoiled = say("Spoiled of {journal}", journal=_line_said(line))
                why = say("Why of {journal}", journal=_line_said(line))
            good = WholeField(_good_ones(line), least=0, most=line.left)
            setattr(Some, f"good_{line.id}", good)
            setattr(Some, f"spoiled_{line.id}", WholeField(spoiled, least=0, most=line.left))
            setattr(Some, f"why_{line.id}", text_field(why))
    Some.minutes = MinutesField(
        say("Minutes these took"), [Needed()],
        description=say(
            "In all, what is logged for them included; those of the rest come when it is finished."
        ),
    )  # fmt: skip
    return Some(data={"shown": _left_said(batch)}, **more)
