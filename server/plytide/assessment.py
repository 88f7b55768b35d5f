"""Observations to what can be said about volume on a day. Batched over limbs; no clock, no I/O."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from plytide.model import DateEstimate, Estimate, LimbHistory, Outlook, Reason
from plytide.thresholds import DEFAULTS, Thresholds


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
    positive when the limb is smaller. `alarms` holds those found in the last days only.
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
    settles_on: DateEstimate | None = None
    outlook: tuple[Outlook, ...] = ()
    alarms: tuple[ChangeAlarm, ...] = ()
    band: tuple[tuple[date, Estimate], ...] = ()


def assess_volume(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
) -> list[list[VolumeView]]:
    """One view per limb and date, each from what was written up to the end of that date only."""
    views = []
    for history, dates in zip(histories, as_of, strict=True):
        row = []
        for day in dates:
            used = sum(c.date <= day for c in history.checkins)
            reason = Reason("few-checkins", "Too few check-ins to say anything about volume yet.")
            row.append(VolumeView(history.limb.id, day, used, enough=False, reasons=(reason,)))
        views.append(row)
    return views
