"""The form of the design page: what every design has, and a field for any dimension."""

from __future__ import annotations

from wtforms import Field, FieldList, FormField, HiddenField

from app.core.errors import DomainError
from app.core.structures.base import Dimension
from app.core.structures.folio_kinds import (
    key_of,
    kinds_in,
    role_of,
)
from app.core.structures.insert_kinds import insert_key, insert_role, inserts_in
from app.language import say, to_say
from app.services.shop.settings import StaleError
from app.units import COUNTED
from app.web.frame.fields import (
    Between,
    Form,
    LengthField,
    Needed,
    WholeField,
    choice_field,
    said,
    text_field,
)
from app.web.frame.filters import length
from app.web.journals.parts_form import (
    MOST_PARTS,
    PartForm,
    parts_said,
)

THINGS = (*COUNTED, "folio", "signature", "leaf", "leave", "panel", "wrap")
"""What a design counts; an s behind them is read as well."""


OPEN_AGAIN = to_say(
    "Another window added something that is not on this page: open the design in a new tab and "
    "change it there. What you typed here stays until then."
)
KIND = to_say("kind {number}: {count} of {paper}")
INSERT = to_say("insert {number}: {count} of {paper}")


class DesignForm(Form):
    """What every design has; a structure's own fields are added by :func:`design_form`."""

    version = HiddenField()
    name = text_field(to_say("Journal"))
    variant_name = text_field(to_say("Variant"))
    batch = WholeField(to_say("Made together"), [Needed()], least=1, most=100_000)
    shelf_level = WholeField(to_say("Keep on the shelf"), [Needed()], least=0, most=10_000)
    parts = FieldList(FormField(PartForm), min_entries=1, max_entries=MOST_PARTS)

    def refuse(self, error: DomainError, now: Form) -> None:
        """As every form does; the parts that are saved stand in one line."""
        typed = self.version.data
        super().refuse(error, now)
        if isinstance(error, StaleError):
            if self._say_rows(now):
                # Saved once more, this form would leave out what it does not have.
                self.version.data = typed
                self.form_errors.append(say(OPEN_AGAIN))
            saved = parts_said(now["parts"])
            if saved != parts_said(self.parts):
                self.parts.saved_now = saved or say("no parts")

    def _say_rows(self, now: Form) -> bool:
        """The kinds of folio and the inserts that another window added or left out meanwhile.

        Whether any were added, which are not on this form.
        """
        more = False
        for numbers, key, role, says, beside in (
            (kinds_in, key_of, role_of, KIND, "folios"),
            (inserts_in, insert_key, insert_role, INSERT, "leaf_height"),
        ):
            here, there = numbers(self._fields), numbers(now._fields)
            for number in set(here) - set(there):
                self[key(number, "count")].saved_now = say("left out")
            added = [
                say(
                    says, number=number, count=said(now[key(number, "count")]),
                    paper=said(now[f"role_{role(number)}"]),
                )
                for number in there
                if number not in here
            ]  # fmt: skip
            if added:
                more = True
                self[beside].saved_now = "; ".join([said(now[beside]), *added])
        return more


def dimension_field(dimension: Dimension) -> Field:
    """A field that reads a dimension as people type it."""
    says = dimension.help
    if dimension.kind == "choice":
        return choice_field(dimension.label, dimension.choices, description=says)
    if dimension.kind == "length":
        bounds = Between(dimension.least, dimension.most, length)
        return LengthField(dimension.label, [Needed(), bounds], description=says)
    return WholeField(
        dimension.label, [Needed()], least=dimension.least, most=dimension.most, description=says,
        words=("%", "percent") if dimension.kind == "percent" else THINGS,
    )  # fmt: skip
