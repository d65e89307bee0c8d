"""What a parcel weighs and measures, and which postage band takes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.core.structures.base import Build
from app.language import say
from app.models import PostageBand, Shop
from app.services.shop.names import other_named
from app.services.shop.settings import check_version


@dataclass(frozen=True)
class Parcel:
    """Journals packed: grams, sides from the longest to the shortest, the band that takes it.

    ``bands`` says whether any band is on record at all.
    """

    grams: int
    sides_nm: tuple[int, int, int]
    band: PostageBand | None
    bands: bool


def bands(session: Session, *, retired: bool = False) -> list[PostageBand]:
    """Postage bands in use, the cheapest first; with ``retired`` the others too."""
    query = select(PostageBand).order_by(PostageBand.retired, PostageBand.price, PostageBand.id)
    if not retired:
        query = query.where(~PostageBand.retired)
    return list(session.scalars(query))


def parcel(session: Session, build: Build, weight_mg: Fraction, shop: Shop) -> Parcel:
    """One journal in its packing, grams rounded up, and the cheapest band for it."""
    return parcel_of(session, [(build, weight_mg, 1)], shop)


def parcel_of(
    session: Session, packed: Sequence[tuple[Build, Fraction, int]], shop: Shop
) -> Parcel:
    """So many of each, lying on one another in one packing, their longer sides the same way."""
    exact = sum((weight * number for _, weight, number in packed), Fraction(0)) / 1000
    exact += shop.packing_grams
    grams = -(-exact.numerator // exact.denominator)
    lying = [sorted((b.closed_width_nm, b.closed_height_nm)) for b, _, _ in packed]
    high = sum(build.thickness_nm * number for build, _, number in packed)
    inside = (max(long for _, long in lying), max(wide for wide, _ in lying), high)
    sides = sorted((side + 2 * shop.packing_nm for side in inside), reverse=True)
    long, wide, thick = sides
    known = bands(session)
    fits = (
        band
        for band in known
        if grams <= band.most_grams
        and long <= band.long_nm
        and wide <= band.wide_nm
        and thick <= band.thick_nm
    )
    return Parcel(grams, (long, wide, thick), next(fits, None), bool(known))


def save_band(
    session: Session,
    band: PostageBand | None,
    values: Mapping[str, Any],
    version: int | None = None,
) -> PostageBand:
    """Add a band or change one; two cannot share a name, and sides go from long to short."""
    check_version(band, version)
    same = other_named(session, PostageBand, values["name"], band)
    if same is not None:
        raise DomainError(say("There is a band called “{name}” already.", name=same.name), "name")
    if values["wide_nm"] > values["long_nm"]:
        raise DomainError(say("The second side is longer than the first; swap them."), "wide_nm")
    if values["thick_nm"] > values["wide_nm"]:
        raise DomainError(say("Thicker than wide: name the longer sides first."), "thick_nm")
    if band is None:
        band = PostageBand()
        session.add(band)
    for key, value in values.items():
        setattr(band, key, value)
    session.flush()
    return band
