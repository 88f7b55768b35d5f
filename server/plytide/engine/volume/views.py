"""From logs to what can be said about volume on a day. Batched over limbs; no clock, no I/O."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from plytide.engine.core.bank import Bank, Tuning
from plytide.engine.core.kept import Shelf
from plytide.engine.sentences import reason
from plytide.engine.thresholds import DEFAULTS, Thresholds
from plytide.engine.volume.column import Column
from plytide.engine.volume.constants import AIM, CONSTANTS, OUTLOOK_DAYS, Constants
from plytide.engine.volume.log import Log, together
from plytide.engine.volume.numbers import Numbers
from plytide.engine.volume.one_pass import BANK, Method, run_pass
from plytide.engine.volume.percent import mm_estimate, negated, pct_estimate
from plytide.engine.volume.tapes import tapes_heard
from plytide.engine.volume.view import ChangeAlarm, VolumeView
from plytide.model import BestCast, DateEstimate, Estimate, LimbHistory, Outlook, Reason, Recast

WORDS = {
    "no-checkins": "No check-ins yet.",
    "few-checkins": "Too few days with a check-in to speak of a trend.",
    "no-circumference": "No reference circumference: percent assume 300 mm.",
    "floor": "No sock is worn: a gain of volume cannot be seen.",
    "settling-day-unknown": "When it comes within the margin can't be known from the log so far.",
    "under-four-weeks": "Less than four weeks are known: no change over 28 days yet.",
}


def assess_volume(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
    constants: Constants = CONSTANTS,
    bank: Bank = BANK,
    shelf: Shelf | None = None,
    chart: bool = True,
) -> list[list[VolumeView]]:
    """One view per limb and date, each from what was written up to the end of that date only.

    Corrections must have been resolved (`series.resolved`). Where each limb is asked for one date, a `shelf` keeps what
    makes the next day cheap; the answers are the same with and without it. Without `chart` the bands of the last dates
    are left out.
    """
    method = Method(bank, Tuning(margin=float(thresholds.steady_margin_mm)), constants)
    logs = [Log.of(history) for history in histories]
    views: list[list[VolumeView]] = [[] for _ in logs]

    def length(i: int) -> int:
        first = logs[i].series.first_day
        return max((d.toordinal() for d in as_of[i]), default=0) - first if first is not None else 0

    for some in together(logs, length):
        dates = [[d.toordinal() for d in as_of[i]] for i in some]
        one = run_pass([logs[i] for i in some], dates, method, shelf=shelf)
        for k, (i, row) in enumerate(zip(some, dates, strict=True)):
            column = Column(logs[i], k, one, constants)
            views[i] = [view_of(column, day, with_band=chart and day == max(row)) for day in row]
    return views


def view_of(column: Column, day: int, *, with_band: bool) -> VolumeView:
    """What is said of the limb of a column on a day (an ordinal); with its chart where that is wanted."""
    history, series, radius, t = column.log.history, column.log.series, column.log.radius, day - column.origin
    numbers, enough, constants = column.numbers(t), column.enough(t), column.constants
    used = int(np.searchsorted(column.log.written, day, side="right"))
    if numbers is None or used == 0:
        none = reason(WORDS, "no-checkins")
        return VolumeView(history.limb.id, date.fromordinal(day), used, enough=False, reasons=(none,))
    reasons: list[Reason] = []
    if not enough:
        reasons.append(reason(WORDS, "few-checkins"))
    if history.limb.reference_circumference_mm is None:
        reasons.append(reason(WORDS, "no-circumference"))
    recent = np.flatnonzero(series.day <= day)
    doubtful = len(recent) > 0 and bool(series.unknown_make[recent[-1]])
    scale = constants.unknown_make_sd if doubtful else constants.thickness_scale_sd
    if len(recent) and series.at_floor[recent[-1]]:
        reasons.append(reason(WORDS, "floor"))
    steady_from, settling_from, unsettled_from = column.since(t)
    is_steady, settling_now, settles = steady_from >= 0, False, None
    if enough and not is_steady:
        settles = _settles_on(column, t, numbers)
        settling_now = settling_from >= 0 and not math.isnan(numbers["settles"][0])
        if settles is None and settling_now:
            reasons.append(reason(WORDS, "settling-day-unknown"))
    back = None
    if t >= 28 and enough:
        sudden = any(alarm.since > t - 28 for alarm in column.alarms(t))
        back = pct_estimate(column.level_change(t) if sudden else numbers["back28"], radius, scale)
    elif enough:
        reasons.append(reason(WORDS, "under-four-weeks"))
    band, limb_band = column.bands(t) if with_band else ((), ())
    ahead = numbers["ahead28"]
    return VolumeView(
        limb_id=history.limb.id,
        as_of=date.fromordinal(day),
        checkins_used=used,
        enough=enough,
        reasons=tuple(reasons),
        change_pct=pct_estimate(numbers["change"], radius, scale),
        change_28d_pct=back,
        coming_28d_pct=pct_estimate(ahead, radius, scale) if enough else None,
        # Said as a loss: positive where the limb is smaller at the end of the day than in the morning.
        daily_swing_pct=negated(pct_estimate(numbers["swing"], radius, scale)) if enough else None,
        level_mm=mm_estimate(numbers["need"]),
        change_mm=mm_estimate(numbers["change"]),
        coming_28d_mm=mm_estimate(ahead) if enough else None,
        steady=is_steady,
        steady_since=column.date(steady_from) if is_steady else None,
        settling=settling_now,
        settling_since=column.date(settling_from) if settling_now else None,
        unsettled_since=column.date(unsettled_from) if unsettled_from >= 0 else None,
        settles_on=settles,
        outlook=tuple(Outlook(d, mm_estimate(numbers[f"ahead{d}"])) for d in OUTLOOK_DAYS) if enough else (),
        alarms=_alarms(column, t),
        band=band,
        limb_change_pct=pct_estimate(numbers["limb"], radius, scale),
        reference_on=column.date(0),
        limb_band=limb_band,
        tapes=tapes_heard(column, t),
        recast=_recast(numbers, date.fromordinal(day), constants) if enough else None,
        steady_for_days=int(numbers["steady for"]) if is_steady and numbers["steady for"] > 0 else None,
    )


def _settles_on(column: Column, t: int, numbers: Numbers) -> DateEstimate | None:
    middle, low, high = (float(x) for x in numbers["settles"])
    if math.isnan(low):
        return None
    last = None if math.isnan(high) else column.date(t + round(high))
    return DateEstimate(column.date(t + round(middle)), column.date(t + round(low)), last)


def _alarms(column: Column, t: int) -> tuple[ChangeAlarm, ...]:
    """Those found in the last days."""
    series, since_first = column.log.series, column.log.series.day - column.origin
    return tuple(
        ChangeAlarm(
            kind="volume-loss" if a.size > 0 else "volume-gain",
            since=column.date(a.since),
            found_on=column.date(a.day),
            size_mm=Estimate(a.size, a.size - 1.645 * a.size_sd, a.size + 1.645 * a.size_sd),
            evidence=tuple(
                series.ids[k] for k in np.flatnonzero((since_first >= a.since) & (since_first <= a.day))[:20]
            ),
        )
        for a in column.alarms(t)
        if t - a.day < column.constants.show_alarm_days
    )


def _recast(numbers: Numbers, day: date, constants: Constants) -> Recast:
    """Days of good fit by the day of a cast."""
    middle, low, high = (day + timedelta(days=int(ahead)) for ahead in numbers["recast day"])
    told = [
        days
        for days in OUTLOOK_DAYS
        if numbers[f"ahead{days}"][2] - numbers[f"ahead{days}"][1] <= 2 * constants.tells_within_mm
    ]
    return Recast(
        horizon_days=AIM.horizon,
        band_mm=AIM.band,
        now=mm_estimate(numbers["recast now"]),
        later=mm_estimate(numbers["recast later"]),
        two_step=mm_estimate(numbers["recast two_step"]),
        best=BestCast(middle, low, high, mm_estimate(numbers["recast days"])),
        reaches_days=max(told, default=0),
    )
