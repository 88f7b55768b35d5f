"""English. Its sentences stand with each signal, in `engine/signals/`."""

from __future__ import annotations

from plytide.engine import staff_words
from plytide.engine.day_words import days, in_ply, stack
from plytide.engine.language import Language

LANGUAGE = Language(
    months=(
        "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
        "December",
    ),
    days=days,
    stack=stack,
    socks=in_ply,
    words={
        "FINDING": staff_words.FINDING, "PLACE": staff_words.PLACE, "SIGN": staff_words.SIGN, "TAG": staff_words.TAG,
        "DAY_TAG": staff_words.DAY_TAG,
    },
)  # fmt: skip
