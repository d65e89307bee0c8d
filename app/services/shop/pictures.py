"""Pictures that a maker brings: read safely, upright, and nothing of their file but themselves.

A picture is turned upright, made no larger than it is of use for, and written anew, so that nothing
of its file but the picture is kept: no place, no time, no camera.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from io import BytesIO
from pathlib import Path

from PIL import Image
from PIL.ImageOps import exif_transpose
from sqlalchemy import String, cast, event, func, or_, select
from sqlalchemy.orm import Session

from app.core.errors import DomainError
from app.folder import write_private
from app.language import say
from app.models import Document, OrderPhoto, VariantPicture

MOST_PIXELS = 60_000_000
LARGEST_SIDE, SMALL_SIDE = 1600, 320
QUALITY = 85


def read_picture(data: bytes, field: str, largest_side: int) -> Image.Image:
    """A picture of bytes: upright, white where it was see-through, no longer than it is of use for.

    What its file says besides (place, time, camera) stays behind. A refusal stands at ``field``.
    """
    try:
        with Image.open(BytesIO(data), formats=("JPEG", "PNG", "WEBP", "GIF")) as picture:
            small = picture.width * picture.height <= MOST_PIXELS
            plain = exif_transpose(picture).convert("RGBA") if small else None
    except Image.DecompressionBombError:
        plain = None
    except Exception as error:
        # The library says in many ways that a file, or what is written beside it, is damaged.
        raise DomainError(say("This is no JPEG, PNG, WebP or GIF picture."), field) from error
    if plain is None:
        raise DomainError(say("This picture has too many pixels: save it smaller first."), field)
    plain.thumbnail((largest_side, largest_side))
    # A picture of its own: what was beside the pixels in the file is not taken along.
    white = Image.new("RGB", plain.size, "white")
    white.paste(plain, mask=plain.getchannel("A"))
    return white


@dataclass(frozen=True)
class Kept:
    """A picture's file in the folder of pictures, and its sides in pixels."""

    file: str
    width: int
    height: int


def keep_picture(folder: Path, picture: Image.Image) -> Kept:
    """Write a picture as a JPEG named by what is in it: the same one is there once."""
    out = BytesIO()
    picture.save(out, "JPEG", quality=QUALITY)
    plain = out.getvalue()
    name = sha256(plain).hexdigest() + ".jpg"
    folder.mkdir(mode=0o700, exist_ok=True)
    file = folder / name
    if not file.exists():
        write_private(file, plain)
    return Kept(name, *picture.size)


def picture_bytes(folder: Path, name: str) -> bytes | None:
    """A picture as it is kept; None where its file is gone or damaged."""
    try:
        data = (folder / name).read_bytes()
        with Image.open(BytesIO(data), formats=("JPEG",)) as picture:
            picture.load()
    except (OSError, SyntaxError, ValueError):
        return None
    return data


def let_go(session: Session, folder: Path, *names: str) -> None:
    """Remove files of pictures that nothing shows any more: no order, no journal, no paper.

    They go once that is kept: undone, everything still has its picture.
    """
    session.flush()
    gone = [name for name in names if not _shown_somewhere(session, name)]

    def remove() -> None:
        for name in gone:
            (folder / name).unlink(missing_ok=True)

    _once_kept(session, remove)


def _shown_somewhere(session: Session, name: str) -> bool:
    count = select(func.count())
    return any(
        session.scalar(query)
        for query in (
            count.where(OrderPhoto.file == name),
            count.where(or_(VariantPicture.file == name, VariantPicture.small == name)),
            # A paper says in its content which pictures stand on it.
            count.where(cast(Document.content, String).contains(name)),
        )
    )


def _once_kept(session: Session, do: Callable[[], object]) -> None:
    """Do something when the session is committed, and never where it is rolled back."""
    waits = [do]

    def kept(session: Session) -> None:
        while waits:
            waits.pop()()

    event.listen(session, "after_commit", kept)
    event.listen(session, "after_rollback", lambda session: waits.clear())
