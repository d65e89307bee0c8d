"""What is typed on the design page: its fields in groups, and the draft they make."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import request
from wtforms import Field

from app.core.errors import DomainError
from app.core.structures import closing
from app.core.structures.base import Structure
from app.core.structures.folio_kinds import (
    MOST_KINDS,
    key_of,
    kinds_in,
    role_of,
    without_kind,
)
from app.core.structures.insert_kinds import (
    MOST_INSERTS,
    insert_key,
    insert_role,
    inserts_in,
    takes_inserts,
)
from app.core.structures.parts import PartPer, signatures_of
from app.language import say, say_many
from app.models import Channel, Material, Paper, Variant
from app.services.designs.journals import Draft
from app.services.designs.take_off import Choices, PartUse
from app.web.frame.amounts import amount_typed
from app.web.frame.session import shop
from app.web.journals.design_form import DesignForm
from app.web.journals.design_groups import Group, More, Row
from app.web.journals.parts_form import (
    MOST_PARTS,
)

ANOTHER_KIND, ANOTHER_INSERT = "another_folio", "another_insert"


class DesignFields:
    """A design form with what it was made from, and what was typed read as a draft."""

    def __init__(
        self,
        form: DesignForm,
        structure: Structure,
        papers: Sequence[Paper],
        materials: Sequence[Material],
        channels: Sequence[Channel],
        variant: Variant | None = None,
        rule: int = 1,
    ) -> None:
        self.form, self.structure, self.channels = form, structure, channels
        self._variant, self._rule = variant, rule
        self._papers = {paper.id: paper for paper in papers}
        self._materials = {material.id: material for material in materials}

    @property
    def groups(self) -> list[Group]:
        """All fields under their headings: papers and findings before fine dimensions."""
        found: dict[str, list[Field]] = {}
        in_rows = {f.name for row in (*self._kind_rows, *self._insert_rows) for f in row.fields}
        for dimension in self.structure.dimensions:
            if dimension.key not in in_rows:
                found.setdefault(dimension.group, []).append(self.form[dimension.key])
        sewn = {d.key: d.group for d in self.structure.dimensions}.get("folios")
        first = self.structure.defaults(shop().unit)
        reshaped = {say(closing.GROUP)} if self._reshaped else set()
        groups = [
            Group(
                heading,
                fields,
                starts_open=heading in {sewn, *reshaped} or not at,
                rows=self._kind_rows if heading == sewn else (),
                more=self._more_kinds if heading == sewn else None,
                first=first,
            )
            for at, (heading, fields) in enumerate(found.items())
        ]
        before = next((at for at, group in enumerate(groups) if group.heading == sewn), 0) + 1
        groups.insert(before, Group(say("Papers and findings"), self.role_fields, starts_open=True))
        if takes_inserts(self.structure):
            empty = say("leaves tipped in, a pocket, an envelope")
            laid_in = Group(say("Laid in"), [], rows=self._insert_rows, more=self._more_inserts,
                            empty=empty)  # fmt: skip
            groups.insert(before + 1, laid_in)
        selling = [self.form.batch, self.form.shelf_level, *self.price_fields]
        return [*groups, Group(say("Making and selling"), selling)]

    @property
    def _reshaped(self) -> bool:
        """Whether another closing was chosen than is saved, or than is first offered."""
        known = self._variant.design.dimensions if self._variant is not None else {}
        asked = request.form.get(closing.KEY, self.structure.closing)
        return bool(asked != known.get(closing.KEY, self.structure.closing))

    @property
    def closing_shown(self) -> str:
        """The closing whose measures stand on the page."""
        return str(self.form[closing.KEY].data) if closing.KEY in self.form else ""

    @property
    def unseen(self) -> bool:
        """Whether a closing was chosen whose measures were never looked at."""
        shown = request.form.get("closing_shown")
        return shown is not None and shown != self.closing_shown

    @property
    def _kinds(self) -> tuple[int, ...]:
        return kinds_in(d.key for d in self.structure.dimensions)

    @property
    def _inserts(self) -> tuple[int, ...]:
        return inserts_in(d.key for d in self.structure.dimensions)

    @property
    def _kind_rows(self) -> list[Row]:
        return [
            Row(
                say("Folios, kind {number}", number=kind),
                self._row(key_of(kind, ""), role_of(kind)),
            )
            for kind in self._kinds
        ]

    @property
    def _insert_rows(self) -> list[Row]:
        return [
            Row(
                say("Insert {number}", number=number),
                self._row(insert_key(number, ""), insert_role(number)),
            )
            for number in self._inserts
        ]

    def _row(self, prefix: str, role: str) -> list[Field]:
        """How many, of which paper, and the rest."""
        keys = [d.key for d in self.structure.dimensions if d.key.startswith(prefix)]
        keys.insert(1, f"role_{role}")
        return [self.form[key] for key in keys]

    @property
    def _more_kinds(self) -> More:
        return More(
            ANOTHER_KIND, say("Folios of another paper or size"),
            say_many(len(self._kinds), "{n} more kind", "{n} more kinds"),
            ANOTHER_KIND in request.form, len(self._kinds) < MOST_KINDS - 1,
        )  # fmt: skip

    @property
    def _more_inserts(self) -> More:
        return More(
            ANOTHER_INSERT, say("Something to lay in"),
            say_many(len(self._inserts), "{n} insert", "{n} inserts"),
            ANOTHER_INSERT in request.form, len(self._inserts) < MOST_INSERTS,
        )  # fmt: skip

    @property
    def role_fields(self) -> list[Field]:
        """What fills each role, but for kinds of folio and inserts."""
        found = []
        of_kinds = {*map(role_of, self._kinds), *map(insert_role, self._inserts)}
        for role in self.structure.roles:
            if role.key in of_kinds:
                continue
            found.append(self.form[f"role_{role.key}"])
            if role.measure == "any":
                found.append(self.form[f"amount_{role.key}"])
        return found

    @property
    def price_fields(self) -> list[Field]:
        """The price asked in each channel."""
        return [self.form[f"price_{channel.id}"] for channel in self.channels]

    def choices(self) -> Choices:
        """Role to paper or material, None where nothing is chosen."""
        found: dict[str, Paper | Material | None] = {}
        for role in self.structure.roles:
            picked = self.form[f"role_{role.key}"].data
            shelf: Any = self._papers if role.measure == "sheet" else self._materials
            found[role.key] = shelf.get(picked)
        return found

    def _batch_size(self) -> int | None:
        """How many are made together; as many as the shop's rule says stays with the rule."""
        typed: int = self.form.batch.data
        known = self._variant.design.batch_size if self._variant is not None else None
        return None if known is None and typed == self._rule else typed

    @property
    def batch_untouched(self) -> bool:
        """Whether the number made together is still the one the page came with."""
        known = self._variant.design.batch_size if self._variant is not None else None
        return bool(self.form.batch.data == (known or self._rule))

    def draft(self) -> Draft:
        """What was typed, once the form is valid; without kinds of folio that count none."""
        dims = {d.key: self.form[d.key].data for d in self.structure.dimensions}
        choices = dict(self.choices())
        for kind in self._kinds:
            if not dims[key_of(kind, "count")]:
                dims = without_kind(dims, kind)
                del choices[role_of(kind)]
        for number in self._inserts:
            if not dims[insert_key(number, "count")]:
                dims = {k: v for k, v in dims.items() if not k.startswith(insert_key(number, ""))}
                del choices[insert_role(number)]
        return Draft(
            structure=self.structure.key,
            dimensions=dims,
            choices=choices,
            prices={
                c.id: self.form[f"price_{c.id}"].data
                for c in self.channels
                if self.form[f"price_{c.id}"].data is not None
            },
            batch_size=self._batch_size(),
            shelf_level=self.form.shelf_level.data,
            quantities=self.quantities(),
            parts=tuple(self.parts()),
        )

    @property
    def parts_open(self) -> bool:
        """Whether there is anything in the parts to look at."""
        return self.another or any(not entry.form.untouched for entry in self.form.parts)

    @property
    def another(self) -> bool:
        """Whether a row was asked for, which the cursor goes to."""
        return "another_part" in request.form

    @property
    def asked_for_more(self) -> bool:
        """Whether a row or a kind was asked for."""
        return self.another or bool({ANOTHER_KIND, ANOTHER_INSERT} & set(request.form))

    @property
    def parts_said(self) -> str:
        """The parts in one line."""
        return ", ".join(e.form.name.data for e in self.form.parts if e.form.name.data)

    @property
    def room(self) -> bool:
        """Whether there is room for another part."""
        return len(self.form.parts) < MOST_PARTS

    def parts(self) -> list[PartUse]:
        """The parts typed; one that is wrong is left out, its fields blamed."""
        rows = [entry.form for entry in self.form.parts if not entry.form.untouched]
        return [part for row in rows if (part := row.read(self._materials)) is not None]

    def quantities(self) -> dict[str, int]:
        """What roles take that nothing derives, where the amount can be read."""
        found: dict[str, int] = {}
        for role, material, text in self._amounts():
            try:
                amount = amount_typed(text, material)
            except DomainError:
                continue
            found[role] = amount
        return found

    def check_amounts(self) -> bool:
        """Put a message beside every amount that cannot be read; whether all could."""
        good = self._check_parts()
        for role, material, text in self._amounts():
            field = self.form[f"amount_{role}"]
            try:
                amount_typed(text, material)
            except DomainError as error:
                field.errors = [*field.errors, error.message]
                good = False
        return good

    def _check_parts(self) -> bool:
        rows = [entry.form for entry in self.form.parts if not entry.form.untouched]
        dims = {d.key: self.form[d.key].data for d in self.structure.dimensions}
        for row in rows:
            if row.per.data == PartPer.SIGNATURE and not signatures_of(dims):
                row.per.errors = [say("There are no signatures in this.")]
        good = len(self.parts()) == len(rows)
        if not good:
            self.form.parts.errors = [say("See what is marked in the parts.")]
        return good

    def _amounts(self) -> list[tuple[str, Material, str]]:
        """Role, material and what was typed, for every role that takes as much as one says."""
        return [
            (role.key, material, self.form[f"amount_{role.key}"].data or "")
            for role in self.structure.roles
            if role.measure == "any"
            and (material := self._materials.get(self.form[f"role_{role.key}"].data))
        ]

    def errors(self) -> dict[str, str]:
        """The first message of every field that has one."""
        found = {
            name: str(messages[0])
            for name, messages in self.form.errors.items()
            if name and name != "parts"
        }
        for entry in self.form.parts:
            found |= {f.name: str(f.errors[0]) for f in entry.form if f.errors}
        if self.form.form_errors:
            found["form"] = str(self.form.form_errors[0])
        return found
