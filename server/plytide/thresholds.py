"""Every number a clinic may set, in one place, each with its source or the word judgement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any


class ThresholdFault(ValueError):
    """thresholds: `field` can't be set so; the message says why."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field, self.message = field, message


@dataclass(frozen=True, slots=True)
class Thresholds:
    # One thin single-material sock under load, about 3 % at 300 mm (Sanders 2012); as a margin: judgement.
    steady_margin_mm: float = 0.7
    # Two hospital leaflets say 15–20 min and 20 min; others 30 s to 30 min. Common practice.
    redness_minutes: float = 20.0
    # "More than 10 ply gives instability", trade page. Common practice.
    stack_call_ply: int = 10
    # Replace at 15–20 ply, exam-preparation material; others 10–15. Common practice, weak.
    stack_due_ply: int = 15
    # "Three or more thick socks: contact the clinic", a public patient leaflet. Common practice.
    thick_socks: int = 3
    # What counts as thick: judgement.
    thick_ply: int = 3
    # Average comfort changed by 2 marks a successful socket change (Prosthesis 2025;7(3):53); as an alert: judgement.
    comfort_drop: float = 2.0
    # Two days at or below this in a week: judgement.
    comfort_low: int = 3
    # Own drop of wear time: judgement.
    wear_drop_share: float = 0.3
    # Two falls in 30 days: judgement.
    falls_in_30_days: int = 2
    # Near the limit the clinic entered for the socket: judgement.
    weight_share_of_limit: float = 0.95
    # About 10 lb gained or lost can affect fit (patient page). Common practice.
    weight_moved_kg: float = 4.5
    # Days without a word, beyond the person's own longest usual gap: judgement.
    silent_days: int = 5
    silent_call_days: int = 10
    # One thin sock below the baseline, held: judgement.
    outgrown_mm: float = 0.7
    # Open skin heals before a recast is planned: judgement.
    skin_closed_days: int = 14
    # A new medicine, illness, pregnancy or moved weight unsettles the reading for this long: judgement.
    context_days: int = 28
    # First definitive socket not before, since the average limb still loses a thin sock in four weeks until then
    # (derived from Tantua 2014); as a caution, never a bar: judgement.
    first_definitive_weeks: int = 16

    @classmethod
    def from_json(cls, given: Mapping[str, Any]) -> Thresholds:
        """The defaults with some replaced. Raises ThresholdFault for a name or value that can't be."""
        kinds = {field.name: type(getattr(DEFAULTS, field.name)) for field in fields(cls)}
        own: dict[str, Any] = {}
        for name, value in given.items():
            if name not in kinds:
                raise ThresholdFault(name, "There is no such threshold.")
            low, high = RANGES[name]
            if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
                raise ThresholdFault(name, f"This must be a number from {low:g} to {high:g}.")
            if kinds[name] is int and value != int(value):
                raise ThresholdFault(name, "This must be a whole number.")
            own[name] = kinds[name](value)
        return cls(**own)


DEFAULTS = Thresholds()

RANGES: dict[str, tuple[float, float]] = {
    "steady_margin_mm": (0.2, 3),
    "redness_minutes": (10, 30),
    "stack_call_ply": (4, 20),
    "stack_due_ply": (6, 30),
    "thick_socks": (2, 6),
    "thick_ply": (2, 6),
    "comfort_drop": (1, 5),
    "comfort_low": (0, 5),
    "wear_drop_share": (0.1, 0.9),
    "falls_in_30_days": (1, 10),
    "weight_share_of_limit": (0.8, 1),
    "weight_moved_kg": (1, 20),
    "silent_days": (2, 60),
    "silent_call_days": (3, 90),
    "outgrown_mm": (0.3, 3),
    "skin_closed_days": (1, 60),
    "context_days": (1, 90),
    "first_definitive_weeks": (0, 52),
}
