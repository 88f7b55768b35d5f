"""A photo that no camera took: a limb's front as a flat drawing, with what was found on it. Nobody's skin."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any

from PIL import Image, ImageDraw

SIZE = (480, 640)
GROUND, SKIN, SHADE = (222, 226, 224), (214, 170, 146), (196, 150, 128)
RED, BLISTER, WET = (196, 92, 84), (232, 190, 158), (250, 236, 222)
RULER, INK = (245, 240, 222), (60, 66, 68)
CENTIMETRE = 24  # pixels: the ruler in view is true to the drawing


def photo(skin: Sequence[Mapping[str, Any]]) -> bytes:
    """A JPEG of the findings of one entry: redness the larger the longer it lasted, a blister with its rim."""
    picture = Image.new("RGB", SIZE, GROUND)
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle((110, -60, 370, 560), 120, fill=SKIN, outline=SHADE, width=6)
    draw.ellipse((200, 60, 280, 150), outline=SHADE, width=5)  # the kneecap
    draw.line((240, 170, 236, 470), fill=SHADE, width=4)  # the shin's edge
    for n, found in enumerate(skin):
        x, y = 236, 300 + 90 * n
        minutes = found.get("redness_minutes") or 20
        half = CENTIMETRE * (0.4 + min(minutes, 60) / 60)
        draw.ellipse((x - half, y - 0.8 * half, x + half, y + 0.8 * half), fill=RED)
        if found["finding"] in ("blister", "open_skin"):
            draw.ellipse((x - 22, y - 18, x + 22, y + 18), fill=BLISTER, outline=WET, width=4)
    draw.rectangle((400, 120, 440, 120 + 10 * CENTIMETRE), fill=RULER)
    for mark in range(11):
        at = 120 + mark * CENTIMETRE
        draw.line((400, at, 424 if mark % 5 == 0 else 414, at), fill=INK, width=2)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=82)
    return out.getvalue()
