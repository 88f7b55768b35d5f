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
    # One thin single-material sock under load, about 3 % at 300 mm (Sanders, Cagle, Harrison, Karchin, Prosthet Orthot
    # Int 2012;36(1):77-86); as a margin: judgement. What is felt may be less: of 33 copies of worn sockets all 13 whose
    # mean radial error was over 0.25 mm were clinically unacceptable (Sanders, Severance, Allyn, J Rehabil Res Dev
    # 2012;49(4):567-82), and no log of socks can see that little.
    steady_margin_mm: float = 0.7
    # 20 min: Gillette Children's, patient page "Use and care of a new prosthesis"; 15 to 20 min: Shirley Ryan
    # AbilityLab, patient page "Lower limb prosthesis care and use". Others 30 s to 30 min. Common practice.
    redness_minutes: float = 20.0
    # Generally more than 10 ply can cause instability and undue pressure (J. Latham Robinson, "Prosthetic Sock Ply
    # Management"). Common practice.
    stack_call_ply: int = 10
    # At so many ply the socket no longer serves: judgement (no source seen that we would name).
    stack_due_ply: int = 15
    # Three or more thick socks: probably contact the clinic for a review (North Cumbria Integrated Care NHS Foundation
    # Trust, leaflet "Amputee: prosthetic limb wearer"). Common practice.
    thick_socks: int = 3
    # What counts as thick: judgement.
    thick_ply: int = 3
    # One study of changed sockets splits its wearers at an average comfort higher by 2 or more (Prosthesis
    # 2025;7(3):53); a fall of as much as an alert: judgement.
    comfort_drop: float = 2.0
    # Two days at or below this in a week: judgement.
    comfort_low: int = 3
    # Own drop of wear time: judgement.
    wear_drop_share: float = 0.3
    # Two falls in 30 days: judgement.
    falls_in_30_days: int = 2
    # Near the limit the clinic entered for the socket: judgement.
    weight_share_of_limit: float = 0.95
    # About 10 lb gained or lost can affect fit. Common practice.
    weight_moved_kg: float = 4.5
    # Days without a word, beyond the person's own longest usual gap: judgement.
    silent_days: int = 5
    silent_call_days: int = 10
    # One thin sock below the baseline, held: judgement.
    outgrown_mm: float = 0.7
    # A new medicine, illness, pregnancy or moved weight unsettles the reading for this long: judgement.
    context_days: int = 28
    # First definitive socket not before, since the average limb still loses a thin sock in four weeks until then
    # (derived from Tantua et al., J Rehabil Res Dev 2014;51(7):1119-26); as a caution, never a bar: judgement.
    first_definitive_weeks: int = 16
    # A diagnostic socket is made again as the definitive one two to three weeks later: common practice.
    remake_from_days: int = 14
    # The same, its far end: common practice.
    remake_by_days: int = 21

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

    @classmethod
    def kept(cls, given: Mapping[str, Any]) -> Thresholds:
        """From what a clinic once kept, by any version: limits that are not used now are passed over, one outside of
        today's range counts as the end of it, and what is no number as the default. No limb goes unread for it.
        """
        own = {}
        for name, value in given.items():
            if name in RANGES and isinstance(value, int | float) and not isinstance(value, bool) and value == value:
                low, high = RANGES[name]
                within = min(max(value, low), high)
                own[name] = round(within) if isinstance(getattr(DEFAULTS, name), int) else within
        return cls.from_json(own)


DEFAULTS = Thresholds()
#: skin_closed_days let a hold by skin end after so many days without a report, whether or not anybody had looked. What
#: ends it now is the same for every clinic, since the phone goes by it too: `dangers.CLEAR_DAYS` and a look of the
#: clinic.
RETIRED = frozenset({"skin_closed_days"})

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
    "context_days": (1, 90),
    "first_definitive_weeks": (0, 52),
    "remake_from_days": (7, 60),
    "remake_by_days": (7, 180),
}
