"""The form of the design page, made from a structure: its dimensions, its roles, the prices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import request
from wtforms import Field, FieldList, FormField, HiddenField

from app.core.errors import DomainError
from app.core.structures import closing, structure_for
from app.core.structures.base import Dimension, Dims, Structure
from app.core.structures.folio_kinds import (
    MOST_KINDS,
    PLAIN,
    key_of,
    kinds_in,
    role_of,
    without_kind,
)
from app.core.structures.parts import PartPer, signatures_of
from app.models import Channel, Material, Paper, Variant
from app.services.designs.journals import Draft
from app.services.designs.take_off import Choices, PartUse
from app.services.shop.settings import StaleError
from app.units import COUNTED, type_quantity
from app.web.frame.fields import (
    Between,
    Form,
    LengthField,
    MoneyField,
    Needed,
    WholeField,
    choice_field,
    text_field,
)
from app.web.frame.filters import length
from app.web.frame.session import shop
from app.web.journals.design_groups import Group
from app.web.journals.parts_form import (
    HOW_MUCH,
    MOST_PARTS,
    PartForm,
    amount_typed,
    offer_materials,
    parts_said,
    started,
)

ANOTHER_KIND = "another_folio"
THINGS = (*COUNTED, "folio", "signature", "leaf", "leave", "panel", "wrap")
"""What a design counts; an s behind them is read as well."""


class DesignForm(Form):
    """What every design has; a structure's own fields are added by :func:`design_form`."""

    version = HiddenField()
    name = text_field("Journal")
    variant_name = text_field("Variant")
    batch = WholeField("Made together", [Needed()], least=1, most=100_000)
    shelf_level = WholeField("Keep on the shelf", [Needed()], least=0, most=10_000)
    parts = FieldList(FormField(PartForm), min_entries=1, max_entries=MOST_PARTS)

    def refuse(self, error: DomainError, now: Form) -> None:
        """As every form does; the parts that are saved stand in one line."""
        super().refuse(error, now)
        if isinstance(error, StaleError):
            saved = parts_said(now["parts"])
            if saved != parts_said(self.parts):
                self.parts.saved_now = saved or "no parts"


def _dimension_field(dimension: Dimension) -> Field:
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
        of_kinds = {field.name for _, fields in self.kinds for field in fields}
        for dimension in self.structure.dimensions:
            if dimension.key not in of_kinds:
                found.setdefault(dimension.group, []).append(self.form[dimension.key])
        sewn = {d.key: d.group for d in self.structure.dimensions}.get("folios")
        reshaped = {closing.GROUP} if self._reshaped else set()
        groups = [
            Group(heading, fields, heading in {sewn, *reshaped} or not at, heading == sewn)
            for at, (heading, fields) in enumerate(found.items())
        ]
        before = next((at for at, group in enumerate(groups) if group.gathers), 0) + 1
        groups.insert(before, Group("Papers and findings", self.role_fields, starts_open=True))
        selling = [self.form.batch, self.form.shelf_level, *self.price_fields]
        return [*groups, Group("Making and selling", selling)]

    @property
    def _kinds(self) -> tuple[int, ...]:
        return kinds_in(d.key for d in self.structure.dimensions)

    @property
    def kinds(self) -> list[tuple[int, list[Field]]]:
        """The fields of each further kind of folio: how many, of which paper, and the rest."""
        found = []
        for kind in self._kinds:
            keys = [d.key for d in self.structure.dimensions if d.key.startswith(key_of(kind, ""))]
            keys.insert(1, f"role_{role_of(kind)}")
            found.append((kind, [self.form[key] for key in keys]))
        return found

    @property
    def _reshaped(self) -> bool:
        """Whether another closing was chosen than is saved, or than is first offered."""
        known = self._variant.design.dimensions if self._variant is not None else {}
        asked = request.form.get(closing.KEY, self.structure.closing)
        return bool(asked != known.get(closing.KEY, self.structure.closing))

    @property
    def another_kind(self) -> bool:
        """Whether a further kind of folio was asked for, which the cursor goes to."""
        return ANOTHER_KIND in request.form

    @property
    def room_for_kinds(self) -> bool:
        """Whether there can be one kind more."""
        return len(self._kinds) < MOST_KINDS - 1

    @property
    def role_fields(self) -> list[Field]:
        """What fills each role, but for kinds of folio."""
        found = []
        of_kinds = {role_of(kind) for kind in self._kinds}
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
        return self.another or self.another_kind

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
                row.per.errors = ["There are no signatures in this."]
        good = len(self.parts()) == len(rows)
        if not good:
            self.form.parts.errors = ["See what is marked in the parts."]
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


def asked_structure(key: str, dims: Dims | None = None) -> Structure:
    """A structure with the further kinds of folio that its form has or ``dims`` speak of.

    One more where another was asked for; a form that was sent knows best.
    """
    said: dict[str, object] = dict(request.form or dims or {})
    known = kinds_in(said)
    free = [kind for kind in range(PLAIN + 1, MOST_KINDS + 1) if kind not in known]
    if ANOTHER_KIND in request.form and free:
        said[key_of(free[0], "count")] = 1
    return structure_for(key, said)


def design_form(
    structure: Structure,
    papers: Sequence[Paper],
    materials: Sequence[Material],
    channels: Sequence[Channel],
    *,
    variant: Variant | None = None,
    batch: int = 12,
    naming: bool = False,
    fresh: bool = False,
) -> DesignFields:
    """The form for a structure, filled from a variant or from the structure's first measures."""

    class Made(DesignForm):
        pass

    # What a variant is made of stays on its form, even when it was put away since.
    chosen = variant.choices if variant is not None else []
    parts = variant.parts if variant is not None else []
    papers = [*papers, *(c.paper for c in chosen if c.paper and c.paper not in papers)]
    materials = [
        *materials, *(c.material for c in chosen if c.material and c.material not in materials)
    ]  # fmt: skip
    materials = [*materials, *(p.material for p in parts if p.material not in materials)]
    for dimension in structure.dimensions:
        setattr(Made, dimension.key, _dimension_field(dimension))
    for role in structure.roles:
        shelf: Sequence[Paper | Material] = (
            papers
            if role.measure == "sheet"
            else [m for m in materials if role.measure in ("any", m.measure)]
        )
        shelves = [(0, "– none yet –"), *((thing.id, thing.name) for thing in shelf)]
        setattr(Made, f"role_{role.key}", choice_field(role.label, shelves, coerce=int))
        if role.measure == "any":
            label = f"How much, {role.label.lower()}"
            setattr(
                Made,
                f"amount_{role.key}",
                text_field(label, most=30, description=HOW_MUCH),
            )
    for channel in channels:
        setattr(Made, f"price_{channel.id}", MoneyField(channel.name))
    if naming:
        Made.name = text_field("Name of the journal", needed=True)
        Made.variant_name = text_field("Variant", needed=True)
    typed = {"formdata": None} if fresh else {}
    form = Made(data=_start(structure, variant, batch), **typed)
    if "another_part" in request.form and not fresh and len(form.parts) < MOST_PARTS:
        form.parts.append_entry()
    offer_materials(form.parts, materials)
    return DesignFields(form, structure, papers, materials, channels, variant, batch)


def _start(structure: Structure, variant: Variant | None, batch: int) -> dict[str, Any]:
    start: dict[str, Any] = {"batch": batch, "shelf_level": 0, "variant_name": "Plain"}
    start |= structure.defaults(shop().unit)
    start |= {f"role_{role.key}": 0 for role in structure.roles}
    start["parts"] = started(variant)
    if variant is None:
        return start
    start |= variant.design.dimensions
    start["batch"] = variant.design.batch_size or batch
    start |= {f"role_{c.role}": c.paper_id or c.material_id or 0 for c in variant.choices}
    start |= {
        f"amount_{c.role}": type_quantity(c.quantity, c.material.measure, shop().unit)
        for c in variant.choices
        if c.material is not None and c.quantity is not None
    }
    start |= {f"price_{p.channel_id}": p.amount for p in variant.prices}
    start |= {
        "version": variant.design.version,
        "name": variant.design.journal.name,
        "variant_name": variant.name,
        "shelf_level": variant.shelf_level,
    }
    return start
