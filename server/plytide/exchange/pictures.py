"""A photo as sent → a small JPEG that holds the picture and nothing else. Pure."""

from __future__ import annotations

import io
import warnings

from PIL import Image, ImageOps, UnidentifiedImageError

LONGEST_SIDE = 1600
MOST_PIXELS = 40_000_000
FORMATS = ("JPEG", "PNG", "WEBP")  # told by content, never by name


class NotAPicture(Exception):
    """exchange: what was sent can't be taken as a photo; the message says why."""


def cleaned(data: bytes) -> tuple[bytes, tuple[int, int]]:
    """(JPEG, its size) drawn anew: no place, time, device, thumbnail, comment or trailing bytes of the original.

    Raises NotAPicture for anything that is not a JPEG, PNG or WebP of a sane size.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise NotAPicture("The picture is too large.")
                picture.load()
                upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise NotAPicture("The picture is too large.") from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise NotAPicture("This is not a picture that can be read: send a JPEG, PNG or WebP.") from error
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    # A new image from the pixels alone: nothing that hung on the old one can follow.
    plain = Image.frombytes("RGB", upright.size, upright.tobytes())
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue(), plain.size
