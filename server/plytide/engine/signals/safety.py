"""What the fixed safety rules found, as the phone told the wearer at once: a signal by rule."""

from __future__ import annotations

from datetime import date

from plytide.engine import dangers
from plytide.engine.facts import Facts
from plytide.engine.signal_kind import Kind
from plytide.engine.thresholds import Thresholds
from plytide.engine.volume import VolumeView
from plytide.model import Signal

# What a signal asks of the visit: trade practice; judgement.
KINDS = (
    Kind(
        "safety",
        label="danger",
        ask="What happened, who was called, and how is it now?",
        look="What was reported; skin, warmth, feeling, swelling.",
    ),
)

WORDS = dangers.WORDS


def rule(facts: Facts, day: date, view: VolumeView, thresholds: Thresholds) -> list[Signal]:
    """Rules about the skin give signals of the kind `skin`; its words are in that file."""
    return facts.dangers.on(day, thresholds.redness_minutes)
