"""Pictures of what a customer asks for: files in the data folder, without where they were taken.

A picture is turned upright, made no larger than it is of use for, and written anew, so that nothing
of its file but the picture is kept: no place, no time, no camera.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from io import BytesIO
from pathlib import Path

from sqlalchemy import event, func, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.folder import write_private
from app.models import Order, OrderPhoto
from app.services.shop.pictures import read_picture

MOST_PHOTOS = 8
"""Of one order."""
LARGEST_SIDE = 1600
QUALITY = 85


def photos_of(session: Session, order: Order) -> list[OrderPhoto]:
    """The pictures of an order in the order they came."""
    query = select(OrderPhoto).where(OrderPhoto.order_id == order.id).order_by(OrderPhoto.id)
    return list(session.scalars(query))


def add_photo(session: Session, folder: Path, order: Order, data: bytes, says: str) -> OrderPhoto:
    """Keep a picture for an order, with what it shows."""
    if order.customer.erased_at is not None:
        raise DomainError("What was personal about this order was taken out on request.", "photo")
    if len(photos_of(session, order)) >= MOST_PHOTOS:
        raise DomainError(f"An order has room for {MOST_PHOTOS} pictures.", "photo")
    picture, out = read_picture(data, "photo", LARGEST_SIDE), BytesIO()
    picture.save(out, "JPEG", quality=QUALITY)
    plain, size = out.getvalue(), picture.size
    name = sha256(plain).hexdigest() + ".jpg"
    folder.mkdir(mode=0o700, exist_ok=True)
    file = folder / name
    if not file.exists():
        write_private(file, plain)
    photo = OrderPhoto(
        order_id=order.id, file=name, says=says.strip(), width=size[0], height=size[1]
    )
    session.add(photo)
    session.flush()
    return photo


def remove_photo(session: Session, folder: Path, photo: OrderPhoto) -> None:
    """Take a picture off an order; its file goes where no other order has the same.

    It goes once that is kept: undone, the order still has its picture.
    """
    name = photo.file
    session.delete(photo)
    session.flush()
    used = session.scalar(select(func.count()).where(OrderPhoto.file == name))
    if not used:
        _once_kept(session, lambda: (folder / name).unlink(missing_ok=True))


def _once_kept(session: Session, do: Callable[[], object]) -> None:
    """Do something when the session is committed, and never where it is rolled back."""

    waits = [do]

    def kept(session: Session) -> None:
        while waits:
            waits.pop()()

    event.listen(session, "after_commit", kept)
    event.listen(session, "after_rollback", lambda session: waits.clear())
