"""Pictures of what a customer asks for, on an order."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.language import say
from app.models import Order, OrderPhoto
from app.services.shop.pictures import LARGEST_SIDE, keep_picture, let_go, read_picture

MOST_PHOTOS = 8
"""Of one order."""


def photos_of(session: Session, order: Order) -> list[OrderPhoto]:
    """The pictures of an order in the order they came."""
    query = select(OrderPhoto).where(OrderPhoto.order_id == order.id).order_by(OrderPhoto.id)
    return list(session.scalars(query))


def add_photo(session: Session, folder: Path, order: Order, data: bytes, says: str) -> OrderPhoto:
    """Keep a picture for an order, with what it shows."""
    if order.customer.erased_at is not None:
        raise DomainError(
            say("What was personal about this order was taken out on request."), "photo"
        )
    if len(photos_of(session, order)) >= MOST_PHOTOS:
        raise DomainError(say("An order has room for {most} pictures.", most=MOST_PHOTOS), "photo")
    kept = keep_picture(folder, read_picture(data, "photo", LARGEST_SIDE))
    photo = OrderPhoto(
        order_id=order.id, file=kept.file, says=says.strip(), width=kept.width, height=kept.height
    )
    session.add(photo)
    session.flush()
    return photo


def remove_photo(session: Session, folder: Path, photo: OrderPhoto) -> None:
    """Take a picture off an order; its file goes where nothing else shows the same."""
    session.delete(photo)
    let_go(session, folder, photo.file)
