"""A photo made small enough for paper; the same bytes in give the same bytes out."""

import io
from dataclasses import dataclass

from PIL import Image, ImageOps

MOST_PIXELS = 900
QUALITY = 82


@dataclass(frozen=True, kw_only=True, slots=True)
class SmallPhoto:
    """The bytes of a JPEG and its sides in pixels."""

    jpeg: bytes
    width: int
    height: int


def small_photo(content: bytes) -> SmallPhoto | None:
    """Return a photo upright and small; None where the bytes are no picture that can be read."""
    try:
        with Image.open(io.BytesIO(content)) as opened:
            opened.draft("RGB", (MOST_PIXELS, MOST_PIXELS))
            upright = ImageOps.exif_transpose(opened)
            flat = Image.new("RGB", upright.size, "white")
            with_alpha = upright.convert("RGBA")
            flat.paste(with_alpha, mask=with_alpha.getchannel("A"))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    flat.thumbnail((MOST_PIXELS, MOST_PIXELS))
    made = io.BytesIO()
    flat.save(made, "JPEG", quality=QUALITY)
    return SmallPhoto(jpeg=made.getvalue(), width=flat.width, height=flat.height)
