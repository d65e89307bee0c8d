"""The parts of a design on its form: a row each, an untouched one passed over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from wtforms import Form as PlainForm

from app.core.errors import DomainError
from app.core.structures.parts import PartPer
from app.language import say, to_say
from app.models import Material, Variant
from app.services.designs.take_off import PartUse
from app.units import type_quantity
from app.web.frame.amounts import HOW_MUCH, amount_typed
from app.web.frame.fields import (
    MinutesField,
    choice_field,
    offered,
    said,
    speak,
    text_field,
)
from app.web.frame.session import shop

MOST_PARTS = 12
PER = (
    (PartPer.JOURNAL.value, to_say("each journal")),
    (PartPer.SIGNATURE.value, to_say("each signature")),
    (PartPer.BATCH.value, to_say("once a batch")),
)
MOST_MINUTES = 10_000


class PartForm(PlainForm):
    """So much of a material, what for, and the minutes it takes."""

    name = text_field(to_say("What it is"))
    material = choice_field(to_say("Of which material"), [], coerce=int, default=0)
    amount = text_field(to_say("How much"), most=30, description=HOW_MUCH)
    per = choice_field(to_say("For"), PER, default=PartPer.JOURNAL.value)
    minutes = MinutesField(to_say("Minutes for it"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak(self)

    @property
    def untouched(self) -> bool:
        """Whether nothing was chosen or typed here."""
        return not (self.name.data or self.material.data or self.amount.data or self.minutes.typed)

    def read(self, materials: Mapping[int, Material]) -> PartUse | None:
        """The part as typed; None, its fields blamed, where it is wrong."""
        material = materials.get(self.material.data)
        amount = 0
        if not self.name.data:
            self.name.errors = [*self.name.errors, say("Say what it is, as in “Label”.")]
        if material is None:
            self.material.errors = [*self.material.errors, say("Choose what it is of.")]
        else:
            try:
                amount = amount_typed(self.amount.data or "", material)
            except DomainError as error:
                self.amount.errors = [*self.amount.errors, error.message]
        minutes = self.minutes.data or Decimal(0)
        if minutes > MOST_MINUTES:
            too_many = say("At most {most} minutes.", most=MOST_MINUTES)
            self.minutes.errors = [*self.minutes.errors, too_many]
        if any(field.errors for field in self) or material is None:
            return None
        return PartUse(self.name.data, material, amount, PartPer(self.per.data), minutes)


def offer_materials(rows: Sequence[Any], materials: Sequence[Material]) -> None:
    """What each row may be of."""
    for entry in rows:
        entry.form.material.choices = offered(
            [(0, say("– none –")), *((material.id, material.name) for material in materials)]
        )


def parts_said(rows: Iterable[Any]) -> str:
    """The parts on a form in one line."""
    return "; ".join(
        say(
            "{name}: {amount} of {material} {per}, {minutes} min",
            name=row.name.data, amount=row.amount.data, material=said(row.material),
            per=said(row.per), minutes=said(row.minutes) or "0",
        )
        for row in (entry.form for entry in rows)
        if not row.untouched
    )  # fmt: skip


def started(variant: Variant | None) -> list[dict[str, Any]]:
    """The rows of a variant's parts as they are typed."""
    return [
        {
            "name": part.name, "material": part.material_id, "per": part.per.value,
            "amount": type_quantity(part.quantity, part.material.measure, shop().unit),
            "minutes": part.minutes,
        }
        for part in (variant.parts if variant is not None else ())
    ]  # fmt: skip
