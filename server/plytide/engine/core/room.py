"""When a margin that shrinks is used up: room now and its forecast → days, with a 90 % interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

HORIZON = 365  # days looked ahead: judgement


@dataclass(frozen=True, slots=True)
class Days:
    """Days until the room is used up with a chance of 5, 50 and 95 %; None where not within the horizon."""

    low: int | None
    middle: int | None
    high: int | None


def runs_out(room: float, sd: float, days: Sequence[int], moved: Sequence[float], moved_sd: Sequence[float]) -> Days:
    """`room` mm with its sd; `moved` is the expected change of room after `days` (negative: less), with its own sd.

    Chance of none left on a day: a normal around room + moved, the two errors taken as independent. Between the
    forecast's days by straight lines, past the last along the last line, mean and sd alike. A chance that was once
    reached stays reached.
    """
    points = [(0, 0.0, 0.0), *zip(days, moved, moved_sd, strict=True)]

    def at(day: int) -> tuple[float, float]:
        after = next((n for n, point in enumerate(points) if point[0] >= day), len(points) - 1)
        (x0, m0, s0), (x1, m1, s1) = points[max(after - 1, 0)], points[after]
        share = (day - x0) / (x1 - x0) if x1 > x0 else 0.0
        return m0 + share * (m1 - m0), max(s0 + share * (s1 - s0), 0.0)

    found: list[int | None] = []
    chances = []
    for day in range(HORIZON + 1):
        mean, own = at(day)
        spread = max(math.hypot(sd, own), 1e-9)
        chances.append(0.5 * math.erfc((room + mean) / spread / math.sqrt(2)))
    for asked in (0.05, 0.5, 0.95):
        found.append(next((day for day, chance in enumerate(chances) if chance >= asked - 1e-12), None))
    return Days(*found)
