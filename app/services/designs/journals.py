"""Journals, designs and variants: drawn, kept, frozen once promised, priced."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session, contains_eager, joinedload, selectinload
from sqlalchemy.orm.attributes import flag_modified

from app.core.errors import DomainError
from app.core.structures import structure_for
from app.core.structures.parts import check_parts, signatures_of
from app.language import say
from app.models import (
    Choice,
    Design,
    Journal,
    Material,
    Offer,
    Paper,
    Part,
    Price,
    StockSheet,
    Variant,
)
from app.services.designs.estimating import Estimate, work_out
from app.services.designs.price_book import PriceBook, read_prices
from app.services.designs.take_off import Choices, PartUse, TakeOff, take_off
from app.services.shop.names import folded, other_named
from app.services.shop.settings import check_version

Dimensions = Mapping[str, int | str]


@dataclass(frozen=True)
class Draft:
    """What a maker has on the design page: structure, dimensions, choices, asked prices."""

    structure: str
    dimensions: Dimensions
    choices: Choices
    prices: Mapping[int, Decimal]
    shelf_level: int = 0
    quantities: Mapping[str, int] = field(default_factory=dict)
    """What roles take that no structure derives, in base units."""
    parts: tuple[PartUse, ...] = ()
    """What goes into it beside what the structure takes."""
    batch_size: int | None = None
    """How many are made together; None for as many as the shop makes as a rule."""


OFFERED = (selectinload(Offer.breaks), joinedload(Offer.supplier))
WHOLE = (
    joinedload(Variant.design).joinedload(Design.journal),
    selectinload(Variant.choices).options(
        selectinload(Choice.paper)
        .selectinload(Paper.sheets)
        .selectinload(StockSheet.offers)
        .options(*OFFERED),
        selectinload(Choice.material).selectinload(Material.offers).options(*OFFERED),
    ),
    selectinload(Variant.parts)
    .selectinload(Part.material)
    .selectinload(Material.offers)
    .options(*OFFERED),
    selectinload(Variant.prices),
)
"""All of a variant that working it out asks for."""


def load_whole(session: Session, variants: Iterable[Variant]) -> None:
    """Read all that working some variants out asks for at once, instead of one by one."""
    numbers = [variant.id for variant in variants]
    query = select(Variant).where(Variant.id.in_(numbers)).options(*WHOLE)
    session.scalars(query).all()


def journals(session: Session) -> list[Journal]:
    """Journals in use with their designs and variants, by name."""
    query = (
        select(Journal)
        .where(~Journal.retired)
        .order_by(Journal.name)
        .options(selectinload(Journal.designs).selectinload(Design.variants).options(*WHOLE))
    )
    return list(session.scalars(query))


def away(session: Session) -> list[Journal]:
    """Journals that were put away, by name."""
    return list(session.scalars(select(Journal).where(Journal.retired).order_by(Journal.name)))


def variants_by_key(session: Session, keys: Iterable[str]) -> list[Variant]:
    """The variants behind some item keys, in the order of their numbers."""
    numbers = [int(key.removeprefix("variant-")) for key in keys if key.startswith("variant-")]
    query = select(Variant).where(Variant.id.in_(numbers)).order_by(Variant.id).options(*WHOLE)
    return list(session.scalars(query))


def sellable(session: Session) -> list[Variant]:
    """The variants that can be ordered: those of each journal's newest design."""
    return [
        variant
        for journal in journals(session)
        for variant in journal.current.variants
        if not variant.retired
    ]


def as_made_now(variant: Variant) -> Variant:
    """The variant of the same name in the journal's newest design; a one-off stays what it is."""
    if variant.design.one_off:
        return variant
    newest = variant.design.journal.current.variants
    return next((v for v in newest if v.name == variant.name and not v.retired), variant)


def kept_on_the_shelf(session: Session) -> list[Variant]:
    """Those of them that are to lie on the shelf, without what working them out asks for."""
    newest = (
        select(func.max(Design.number))
        .where(Design.journal_id == Journal.id, ~Design.one_off)
        .correlate(Journal)
        .scalar_subquery()
    )
    query = (
        select(Variant)
        .join(Variant.design)
        .join(Design.journal)
        .where(Variant.shelf_level > 0, ~Variant.retired, ~Journal.retired)
        .where(Design.number == newest)
        .order_by(Journal.name, Variant.id)
        .options(contains_eager(Variant.design).contains_eager(Design.journal))
    )
    return list(session.scalars(query))


def begin_journal(
    session: Session, name: str, draft: Draft, variant_name: str = "", note: str = ""
) -> Journal:
    """Start a journal with its first design and one variant."""
    _check_name(session, name, None)
    journal = Journal(name=name, note=note)
    session.add(journal)
    session.flush()
    _new_design(session, journal, draft, variant_name or say("Plain"))
    return journal


def _new_design(
    session: Session, journal: Journal, draft: Draft, variant_name: str, *, one_off: bool = False
) -> Design:
    dims = _sound(draft)
    number = max((d.number for d in journal.designs), default=0) + 1
    design = Design(
        journal=journal, number=number, structure=draft.structure, dimensions=dims,
        one_off=one_off, batch_size=draft.batch_size or (1 if one_off else None),
    )  # fmt: skip
    session.add(design)
    variant = Variant(design=design, name=variant_name)
    session.add(variant)
    _dress(variant, draft)
    session.flush()
    return design


def _sound(draft: Draft) -> dict[str, int | str]:
    """The dimensions of a draft; refused where they or its parts cannot be built."""
    made = structure_for(draft.structure, draft.dimensions)
    dims = made.checked(draft.dimensions)
    check_parts([use.part for use in draft.parts], signatures_of(dims))
    return dims


def _dress(variant: Variant, draft: Draft) -> None:
    """Give a variant the choices and prices of a draft."""
    variant.shelf_level = draft.shelf_level
    roles = {choice.role: choice for choice in variant.choices}
    # A kind of folio that is left out leaves no paper behind.
    for gone in roles.keys() - draft.choices.keys():
        variant.choices.remove(roles[gone])
    for role, filled in draft.choices.items():
        choice = roles.get(role)
        if choice is None:
            choice = Choice(role=role)
            variant.choices.append(choice)
        choice.paper = filled if isinstance(filled, Paper) else None
        choice.material = filled if isinstance(filled, Material) else None
        choice.quantity = draft.quantities.get(role)
    _give_parts(variant, draft.parts)
    known = {price.channel_id: price for price in variant.prices}
    for channel_id, amount in draft.prices.items():
        if channel_id in known:
            known[channel_id].amount = amount
        else:
            variant.prices.append(Price(channel_id=channel_id, amount=amount))
    for channel_id, price in known.items():
        # A price in a channel that is no longer used is not on the page, and stays.
        if channel_id not in draft.prices and not price.channel.retired:
            variant.prices.remove(price)


def _give_parts(variant: Variant, wanted: Sequence[PartUse]) -> None:
    """The parts of a draft, one after another in the places of those there were."""
    del variant.parts[len(wanted) :]
    for position, use in enumerate(wanted):
        if position == len(variant.parts):
            variant.parts.append(Part(position=position))
        part = variant.parts[position]
        part.name, part.material, part.quantity = use.name, use.material, use.quantity
        part.per, part.minutes = use.per, use.minutes


def keep_design(session: Session, variant: Variant, draft: Draft, version: int | None) -> Variant:
    """Save a draft over its design while nothing was promised, else as the next number.

    A frozen design keeps its dimensions; prices and shelf levels of its variants may change.
    Returns the variant the draft now lives in.
    """
    design = variant.design
    check_version(design, version)
    dims = _sound(draft)
    kept = structure_for(design.structure, design.dimensions).complete(design.dimensions)
    same = design.structure == draft.structure and kept == dims
    # Prices and choices belong to the design: changing them must make an older form stale.
    flag_modified(design, "dimensions")
    roles = [role.key for role in structure_for(draft.structure, dims).roles]
    chosen = choices_of(variant)
    same_choices = (
        # What has no row yet was never chosen; what a design no longer asks for says nothing.
        all(chosen.get(role) == draft.choices.get(role) for role in roles)
        and quantities_of(variant) == dict(draft.quantities)
        and parts_of(variant) == draft.parts
    )
    if same and same_choices:
        design.batch_size = draft.batch_size
        _dress(variant, draft)
        session.flush()
        return variant
    if design.frozen_at is not None:
        return keep_as_next(session, variant, draft)
    design.structure = draft.structure
    design.dimensions = dims
    design.batch_size = draft.batch_size
    _dress(variant, draft)
    session.flush()
    return variant


def keep_as_next(session: Session, variant: Variant, draft: Draft) -> Variant:
    """Save a draft as the journal's next design; its other variants come along."""
    old = variant.design
    design = _new_design(session, old.journal, draft, variant.name)
    for other in old.variants:
        if other is not variant and not other.retired:
            copy = Variant(design=design, name=other.name)
            session.add(copy)
            _dress(copy, draft_of(other))
    session.flush()
    return design.variants[0]


def add_variant(session: Session, design: Design, name: str, like: Variant) -> Variant:
    """Add a variant to a design, starting from another's choices and prices."""
    same = next((v.name for v in design.variants if folded(v.name) == folded(name)), None)
    if same is not None:
        raise DomainError(
            say("This design has a variant called “{name}” already.", name=same), "name"
        )
    variant = Variant(design=design, name=name)
    session.add(variant)
    _dress(variant, draft_of(like))
    session.flush()
    return variant


def one_off(session: Session, variant: Variant, draft: Draft, name: str) -> Variant:
    """A design of its own for one order, copied from a journal and changed; one unless said."""
    design = _new_design(session, variant.design.journal, draft, name, one_off=True)
    return design.variants[0]


def _check_name(session: Session, name: str, journal: Journal | None) -> None:
    same = other_named(session, Journal, name, journal)
    if same is not None:
        raise DomainError(
            say("There is a journal called “{name}” already.", name=same.name), "name"
        )


def rename_journal(
    session: Session, journal: Journal, name: str, note: str, version: int | None = None
) -> None:
    """Give a journal another name or note."""
    check_version(journal, version)
    _check_name(session, name, journal)
    journal.name, journal.note = name, note
    session.flush()


def put_away(session: Session, journal: Journal, *, away: bool = True) -> None:
    """Take a journal off the lists, or bring it back; what was ordered and made stays."""
    journal.retired = away
    session.flush()


def freeze(session: Session, design: Design) -> None:
    """Something was promised or made to this design: it stays as it is from now on."""
    if design.frozen_at is None:
        design.frozen_at = datetime.now(UTC)
        session.flush()


def choices_of(variant: Variant) -> dict[str, Paper | Material | None]:
    """Role to what fills it."""
    return {choice.role: choice.paper or choice.material for choice in variant.choices}


def quantities_of(variant: Variant) -> dict[str, int]:
    """Role to what is taken of it, where the maker said so."""
    return {c.role: c.quantity for c in variant.choices if c.quantity is not None}


def parts_of(variant: Variant) -> tuple[PartUse, ...]:
    """What goes into it beside what the structure takes, in the maker's order."""
    return tuple(PartUse(p.name, p.material, p.quantity, p.per, p.minutes) for p in variant.parts)


def draft_of(variant: Variant) -> Draft:
    """A variant as the design page starts from it."""
    return Draft(
        structure=variant.design.structure,
        dimensions=dict(variant.design.dimensions),
        choices=choices_of(variant),
        prices={price.channel_id: price.amount for price in variant.prices},
        shelf_level=variant.shelf_level,
        quantities=quantities_of(variant),
        parts=parts_of(variant),
        batch_size=variant.design.batch_size,
    )


def estimate(session: Session, variant: Variant, on: date, batch: int | None = None) -> Estimate:
    """One variant at the prices of a day; who works several out reads the book once."""
    return estimate_by(read_prices(session, on), variant, batch)


def take_off_of(book: PriceBook, variant: Variant) -> TakeOff:
    """What one of a variant takes, before any money."""
    design = variant.design
    return take_off(
        book,
        design.structure,
        design.dimensions,
        choices_of(variant),
        quantities_of(variant),
        parts_of(variant),
    )


def estimate_by(book: PriceBook, variant: Variant, batch: int | None = None) -> Estimate:
    """A variant worked out, made as many together as its design says where nothing is said."""
    draft = draft_of(variant)
    return work_out(
        book, draft.structure, draft.dimensions, draft.choices,
        batch=draft.batch_size if batch is None else batch,
        asked=draft.prices, quantities=draft.quantities, parts=draft.parts,
    )  # fmt: skip


def estimate_or_none(book: PriceBook, variant: Variant) -> Estimate | None:
    """A variant worked out; None where it cannot be."""
    try:
        return estimate_by(book, variant)
    except DomainError:
        return None
