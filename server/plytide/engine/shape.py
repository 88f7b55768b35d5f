"""Whether a limb would draw out of a socket made on it, from the shape entered and the tape."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from plytide.engine.core.shape import bulge
from plytide.engine.sentences import in_english, sentence
from plytide.model import Measurement, Sentence

WORDS = {
    "shape.measured": (
        "On {on:day} it measured {wide:g} mm at {low:g} mm from the end and {narrow:g} mm above that, at {high:g} mm: "
        "it would not draw out of a socket formed on it."
    ),
    "shape.entered-differs": "The shape entered, {shape:SHAPE}, differs from that: look again.",
    "shape.bulbous": "The shape is entered as bulbous: it would not draw out of a socket formed on it.",
    "shape.tape-differs": "The tape of {on:day} shows no level wider than one above it and differs: look again.",
    "shape.missing": "The shape of the limb is not entered.",
    "shape.entered": "The shape is entered as {shape:SHAPE}.",
    "shape.entered-agrees": "The shape is entered as {shape:SHAPE}, and the tape of {on:day} agrees.",
}


def shape_words(shape: str | None, measurements: Sequence[Measurement], day: date) -> tuple[str, str]:
    """`shape_said` in English."""
    state, told = shape_said(shape, measurements, day)
    return state, in_english(WORDS, told, "shape")


def shape_said(shape: str | None, measurements: Sequence[Measurement], day: date) -> tuple[str, list[Sentence]]:
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
        told = [sentence("shape.measured", on=taken.on, low=low, wide=wide, high=high, narrow=narrow)]
        if shape and shape != "bulbous":
            told.append(sentence("shape.entered-differs", shape=(shape,)))
        return "stop", told
    if shape == "bulbous":
        told = [sentence("shape.bulbous")]
        if taken:
            told.append(sentence("shape.tape-differs", on=taken.on))
        return "stop", told
    if shape is None:
        return "unknown", [sentence("shape.missing")]
    if taken:
        return "ok", [sentence("shape.entered-agrees", shape=(shape,), on=taken.on)]
    return "ok", [sentence("shape.entered", shape=(shape,))]
