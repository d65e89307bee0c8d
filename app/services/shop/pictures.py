"""Pictures that a maker brings: read safely, upright, and nothing of their file but themselves."""

from __future__ import annotations

from io import BytesIO

from PIL import Image, UnidentifiedImageError
from PIL.ImageOps import exif_transpose

from app.core.errors import DomainError

MOST_PIXELS = 60_000_000


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
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        raise DomainError("This is no JPEG, PNG, WebP or GIF picture.", field) from error
    if plain is None:
        raise DomainError("This picture has too many pixels: save it smaller first.", field)
    plain.thumbnail((largest_side, largest_side))
    # A picture of its own: what was beside the pixels in the file is not taken along.
    white = Image.new("RGB", plain.size, "white")
    white.paste(plain, mask=plain.getchannel("A"))
    return white
