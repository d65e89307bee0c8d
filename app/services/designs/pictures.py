"""Pictures of finished journals, for the maker's lists and for what customers see."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.language import say
from app.models import Variant, VariantPicture
from app.services.shop.pictures import (
    LARGEST_SIDE,
    SMALL_SIDE,
    keep_picture,
    let_go,
    read_picture,
)

MOST_PICTURES = 6
"""Of one variant."""


def pictures_of(session: Session, variant: Variant) -> list[VariantPicture]:
    """The pictures of a variant in the order they came; the first stands for it on lists."""
    query = select(VariantPicture).where(VariantPicture.variant_id == variant.id)
    return list(session.scalars(query.order_by(VariantPicture.id)))


def first_pictures(session: Session, variants: Iterable[Variant]) -> dict[int, VariantPicture]:
    """By variant the picture that stands for it, of those that have one."""
    first = (
        select(func.min(VariantPicture.id))
        .where(VariantPicture.variant_id.in_([v.id for v in variants]))
        .group_by(VariantPicture.variant_id)
    )
    rows = session.scalars(select(VariantPicture).where(VariantPicture.id.in_(first)))
    return {row.variant_id: row for row in rows}


def add_picture(
    session: Session, folder: Path, variant: Variant, data: bytes, says: str
) -> VariantPicture:
    """Keep a picture of a finished journal, large and small."""
    if len(pictures_of(session, variant)) >= MOST_PICTURES:
        raise DomainError(
            say("A journal has room for {most} pictures.", most=MOST_PICTURES), "photo"
        )
    large = read_picture(data, "photo", LARGEST_SIDE)
    kept = keep_picture(folder, large)
    large.thumbnail((SMALL_SIDE, SMALL_SIDE))
    picture = VariantPicture(
        variant_id=variant.id, file=kept.file, small=keep_picture(folder, large).file,
        says=says.strip(), width=kept.width, height=kept.height,
    )  # fmt: skip
    session.add(picture)
    session.flush()
    return picture


def check_shown(picture: VariantPicture, file: str) -> None:
    """Refuse what is said of another picture than the one that was shown in its place."""
    if picture.file != file:
        raise DomainError(say("The pictures changed places in another window: look again."))


def stand_first(session: Session, picture: VariantPicture) -> None:
    """Let a picture stand for its variant on lists: it changes places with the first."""
    first = first_pictures(session, [picture.variant])[picture.variant_id]
    for key in ("file", "small", "says", "width", "height"):
        ours, theirs = getattr(picture, key), getattr(first, key)
        setattr(picture, key, theirs)
        setattr(first, key, ours)
    session.flush()


def remove_picture(session: Session, folder: Path, picture: VariantPicture) -> None:
    """Take a picture off; its files go where nothing else shows the same."""
    session.delete(picture)
    let_go(session, folder, picture.file, picture.small)
