"""What the log says about the volume of one limb on one day: the nouns the rest of the engine reads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from plytide.model import DateEstimate, Estimate, Outlook, Reason, Recast, TapeHeard


@dataclass(frozen=True, slots=True)
class ChangeAlarm:
    """A sudden change beyond the trend. `kind` is volume-loss or volume-gain.

    `since` is the likeliest first day of it, `found_on` the day the log first showed it well enough.
    `size_mm` is the jump of needed thickness (positive: the limb is smaller).
    """

    kind: str
    since: date
    found_on: date
    size_mm: Estimate
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VolumeView:
    """What the log says about the volume of one limb on one day. Intervals are 90 %.

    `level_mm` is the needed thickness now, `change_mm` that against the day the socket was fitted,
    positive when the limb is smaller. `limb_change_pct` is the limb's volume against `reference_on`, the first day
    known, whatever sockets were worn since. `alarms` holds those found in the last days only.
    """

    limb_id: str
    as_of: date
    checkins_used: int
    enough: bool
    reasons: tuple[Reason, ...] = ()
    change_pct: Estimate | None = None
    change_28d_pct: Estimate | None = None
    coming_28d_pct: Estimate | None = None
    daily_swing_pct: Estimate | None = None
    level_mm: Estimate | None = None
    change_mm: Estimate | None = None
    coming_28d_mm: Estimate | None = None
    steady: bool = False
    steady_since: date | None = None
    settling: bool = False
    settling_since: date | None = None
    unsettled_since: date | None = None  # first of the days in a row that were known well enough and not steady
    settles_on: DateEstimate | None = None
    outlook: tuple[Outlook, ...] = ()
    alarms: tuple[ChangeAlarm, ...] = ()
    band: tuple[tuple[date, Estimate], ...] = ()
    limb_change_pct: Estimate | None = None
    reference_on: date | None = None
    limb_band: tuple[tuple[date, Estimate], ...] = ()
    tapes: tuple[TapeHeard, ...] = ()
    recast: Recast | None = None
    steady_for_days: int | None = None  # so long is the change expected to stay within the margin, 9 times in 10
