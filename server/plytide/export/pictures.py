"""A photo as sent → a small JPEG that holds the picture and nothing else. Pure."""

from __future__ import annotations

import io
import warnings

from PIL import Image, UnidentifiedImageError

LONGEST_SIDE = 1600
MOST_PIXELS = 40_000_000  # of a JPEG that can be decoded at a smaller size, so that its own size costs no memory
MOST_PIXELS_WHOLE = 12_000_000  # of one that can only be decoded whole: some 100 MB for a moment
FORMATS = ("JPEG", "PNG", "WEBP")  # told by content, never by name


class NotAPicture(Exception):
    """exchange: what was sent can't be taken as a photo; the message says why."""


TURNED = 0x0112  # EXIF: how the sensor was held, and what puts it upright
UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def _refuse_too_many(picture: Image.Image) -> None:
    """Raises NotAPicture for more pixels than may be decoded. A progressive JPEG is kept whole while it is decoded."""
    in_steps = picture.format == "JPEG" and not picture.info.get("progressive")
    most = MOST_PIXELS if in_steps else MOST_PIXELS_WHOLE
    if picture.width * picture.height > most:
        size = f"{picture.width} × {picture.height}"
        raise NotAPicture(f"The picture is too large: {size} pixels. Send one of at most {most // 1_000_000} million.")


def cleaned(data: bytes) -> tuple[bytes, tuple[int, int]]:
    """(JPEG, its size) drawn anew: no place, time, device, thumbnail, comment or trailing bytes of the original.

    Raises NotAPicture for anything that is not a JPEG, PNG or WebP of a sane size.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
                _refuse_too_many(picture)
                turned = picture.getexif().get(TURNED, 1)
                picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG comes out no larger than it must
                picture.load()
                small = picture.convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise NotAPicture("The picture is too large.") from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise NotAPicture("This is not a picture that can be read: send a JPEG, PNG or WebP.") from error
    small.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    upright = small.transpose(UPRIGHT[turned]) if turned in UPRIGHT else small
    # A new image from the pixels alone: nothing that hung on the old one can follow.
    plain = Image.frombytes("RGB", upright.size, upright.tobytes())
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue(), plain.size
