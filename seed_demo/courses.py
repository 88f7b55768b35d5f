"""How the volume of an invented limb really goes. The truth a story returns comes from here.

A piece of a course says percent of limb volume as a function of `ago`, the days before today, against an
arbitrary day of its own: only differences count. Pieces of one course add.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

STORY_DAYS = 120  # the courses of the cast are told from here on
EARLIEST = STORY_DAYS + 20  # before this the limb is taken as it was then


@dataclass(frozen=True, slots=True)
class Settle:
    """Exponential approach: `total_pct` still to come when the story begins, e-folding time `tau_days`."""

    total_pct: float
    tau_days: float

    def pct(self, ago: float) -> float:
        return self.total_pct * (1 - math.exp(-(STORY_DAYS - min(ago, EARLIEST)) / self.tau_days))


@dataclass(frozen=True, slots=True)
class LogTime:
    """Loss proportional to the log of the weeks since amputation.

    9.7 % per unit of ln(weeks) is the published mean curve (Tantua et al. 2014, JRRD 51:1119, weeks 1 to 24).
    """

    weeks_now: float
    pct_per_ln: float = -9.7

    def pct(self, ago: float) -> float:
        return self.pct_per_ln * math.log(max(self.weeks_now - ago / 7, 2.0) / self.weeks_now)


@dataclass(frozen=True, slots=True)
class Drift:
    """A straight line: growth, or a slow loss that goes on."""

    pct_per_30d: float

    def pct(self, ago: float) -> float:
        return self.pct_per_30d * (STORY_DAYS - min(ago, EARLIEST)) / 30


@dataclass(frozen=True, slots=True)
class Shift:
    """A change of `size_pct` that sets in `ago` days before today, takes `over_days`, and may pass again."""

    ago: int
    size_pct: float
    over_days: float = 3
    passes_after: float | None = None

    def pct(self, ago: float) -> float:
        since = self.ago - ago
        if since <= 0:
            return 0.0
        share = min(since / self.over_days, 1.0)
        if self.passes_after is not None and since > self.passes_after:
            share *= math.exp(-(since - self.passes_after) / self.over_days)
        return self.size_pct * share


@dataclass(frozen=True, slots=True)
class Dialysis:
    """Fluid leaves with a session and gathers until the next: fullest on the morning of one."""

    size_pct: float
    session_weekdays: tuple[int, ...] = (0, 2, 4)
    today_weekday: int = 0

    def pct(self, ago: float) -> float:
        weekday = (self.today_weekday - math.ceil(ago)) % 7
        since = min((weekday - session) % 7 for session in self.session_weekdays)
        return 0.0 if since == 0 else self.size_pct * (1 - 0.45 * (since - 1))


Piece = Settle | LogTime | Drift | Shift | Dialysis


def volume_pct(course: Sequence[Piece], ago: float) -> float:
    """The limb's volume with its weekly cycle, in percent."""
    return sum(piece.pct(ago) for piece in course)


def slow_pct(course: Sequence[Piece], ago: float) -> float:
    """The same without the weekly cycle."""
    return sum(piece.pct(ago) for piece in course if not isinstance(piece, Dialysis))


def between_pct(course: Sequence[Piece], from_ago: float, to_ago: float) -> float:
    """Change of volume from one day to another, in percent of the first."""
    before, after = 1 + slow_pct(course, from_ago) / 100, 1 + slow_pct(course, to_ago) / 100
    return 100 * (after / before - 1)


def radius_mm(circumference_mm: float, pct: float) -> float:
    """Radius of a cylinder of that circumference whose volume has changed by `pct` at unchanged length."""
    return circumference_mm / (2 * math.pi) * math.sqrt(max(1 + pct / 100, 0.05))
