"""The form of the design page made from a structure: its dimensions, its roles, the prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from flask import request

from app.core.structures import closing, structure_for
from app.core.structures.base import Dims, Structure
from app.core.structures.folio_kinds import (
    MOST_KINDS,
    PLAIN,
    key_of,
    kinds_in,
)
from app.core.structures.insert_kinds import MOST_INSERTS, insert_key, inserts_in
from app.language import say, to_say
from app.models import Channel, Material, Paper, Variant
from app.services.shop.wording import within
from app.units import type_quantity
from app.web.frame.amounts import HOW_MUCH
from app.web.frame.fields import (
    MoneyField,
    choice_field,
    text_field,
)
from app.web.frame.session import shop
from app.web.journals.design_fields import ANOTHER_INSERT, ANOTHER_KIND, DesignFields
from app.web.journals.design_form import DesignForm, dimension_field
from app.web.journals.parts_form import (
    MOST_PARTS,
    offer_materials,
    started,
)

MOST_DIGITS = 12


def asked_structure(key: str, dims: Dims | None = None) -> Structure:
    """A structure with the further kinds of folio that its form has or ``dims`` speak of.

    One more where another was asked for; a form that was sent knows best.
    """
    typed: dict[str, object] = dict(request.form or dims or {})
    if closing.KEY not in typed and dims is not None and closing.KEY in dims:
        typed[closing.KEY] = dims[closing.KEY]
    known = kinds_in(typed)
    free = [kind for kind in range(PLAIN + 1, MOST_KINDS + 1) if kind not in known]
    if ANOTHER_KIND in request.form and free:
        typed[key_of(free[0], "count")] = 1
    laid_in = inserts_in(typed)
    room = [number for number in range(1, MOST_INSERTS + 1) if number not in laid_in]
    if ANOTHER_INSERT in request.form and room:
        typed[insert_key(room[0], "count")] = 1
    return structure_for(key, typed)


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
        setattr(Made, dimension.key, dimension_field(dimension))
    for role in structure.roles:
        shelf: Sequence[Paper | Material] = (
            papers
            if role.measure == "sheet"
            else [m for m in materials if role.measure in ("any", m.measure)]
        )
        shelves = [(0, say("– none yet –")), *((thing.id, thing.name) for thing in shelf)]
        setattr(Made, f"role_{role.key}", choice_field(role.label, shelves, coerce=int))
        if role.measure == "any":
            label = say("How much, {role}", role=within(role.label))
            setattr(
                Made,
                f"amount_{role.key}",
                text_field(label, most=30, description=HOW_MUCH),
            )
    for channel in channels:
        setattr(Made, f"price_{channel.id}", MoneyField(channel.name))
    if naming:
        Made.name = text_field(to_say("Name of the journal"), needed=True)
        Made.variant_name = text_field(to_say("Variant"), needed=True)
    typed = {"formdata": None} if fresh else {}
    form = Made(data=_start(structure, variant, batch), **typed)
    if "another_part" in request.form and not fresh and len(form.parts) < MOST_PARTS:
        form.parts.append_entry()
    offer_materials(form.parts, materials)
    return DesignFields(form, structure, papers, materials, channels, variant, batch)


def _start(structure: Structure, variant: Variant | None, batch: int) -> dict[str, Any]:
    start: dict[str, Any] = {"batch": batch, "shelf_level": 0, "variant_name": say("Plain")}
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
    return start | _tried(structure, start)


def _tried(structure: Structure, start: Mapping[str, Any]) -> dict[str, int]:
    """What an address asks to be tried on a saved design, ``key~number``; all else is as saved."""
    open_to_it = {"batch", *(d.key for d in structure.dimensions)}
    open_to_it |= {f"role_{role.key}" for role in structure.roles}
    pairs = [text.partition("~") for text in request.args.getlist("try")]
    return {
        key: int(number)
        for key, _, number in pairs
        if number.isascii()
        and number.isdecimal()
        and len(number) < MOST_DIGITS
        and key in open_to_it
        and isinstance(start[key], int)
    }
