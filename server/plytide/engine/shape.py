"""Whether a limb would draw out of a socket made on it, from the shape entered and the tape."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from plytide.engine.core.shape import bulge
from plytide.engine.facts import short
from plytide.model import Measurement


def shape_said(shape: str | None, measurements: Sequence[Measurement], day: date) -> tuple[str, str]:
    """Whether the limb would draw out of a socket made on it: "ok", "stop" or "unknown", and why.

    From the shape as entered and all levels of the last tape measurement of at least two; where they differ, that is
    said, and it is the one that stops which counts (common practice; eyes and hands decide).
    """
    taken = max(
        (one for one in measurements if one.on <= day and len(one.levels) > 1), key=lambda one: one.on, default=None
    )
    found = bulge([(level.from_end_mm, level.circumference_mm) for level in taken.levels]) if taken else None
    if taken and found:
        (low, wide), (high, narrow) = found.below, found.above
        measured = (
            f"On {short(taken.on)} it measured {wide:g} mm at {low:g} mm from the end and {narrow:g} mm above that, "
            f"at {high:g} mm: it would not draw out of a socket formed on it."
        )
        differs = "" if shape in (None, "bulbous") else f" The shape entered, {shape}, differs from that: look again."
        return "stop", measured + differs
    if shape == "bulbous":
        entered = "The shape is entered as bulbous: it would not draw out of a socket formed on it."
        if taken:
            entered += f" The tape of {short(taken.on)} shows no level wider than one above it and differs: look again."
        return "stop", entered
    if shape is None:
        return "unknown", "The shape of the limb is not entered."
    agrees = f", and the tape of {short(taken.on)} agrees" if taken else ""
    return "ok", f"The shape is entered as {shape}{agrees}."
