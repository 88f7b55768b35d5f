"""Observations to what can be said about volume on a day. Batched over limbs; no clock, no I/O."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from plytide.core import observation, outlook, settling, steady, trend
from plytide.model import DateEstimate, Estimate, LimbHistory, Outlook, Reason
from plytide.series import Series, series_of
from plytide.thresholds import DEFAULTS, Thresholds

Array = NDArray[np.float64]

CHUNK = 128  # limbs per pass: keeps the bank in the processor's cache
OUTLOOK_DAYS = (14, 30, 60, 90)
BAND_DAYS = 400
AHEAD = np.concatenate([np.arange(0.0, 90.0, 5.0), np.arange(90.0, 190.0, 10.0), np.arange(200.0, 401.0, 40.0)])
BANK = trend.make_bank()


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


@dataclass(frozen=True, slots=True)
class Settings:
    """Numbers of the engine that a clinic does not set. Judgement, set on simulated limbs."""

    enough_days: int = 6  # days with an answer before anything is said about a trend
    enough_span: int = 7
    enter: float = 0.05
    leave: float = 0.10
    hold: int = 3
    show_alarm_days: int = 14
    quiet_after_alarm: int = 7
    thickness_scale_sd: float = 0.07
    tape_sd_mm: float = 1.6


SETTINGS = Settings()


def assess_volume(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
    settings: Settings = SETTINGS,
    bank: trend.Bank = BANK,
    tuning: trend.Tuning | None = None,
) -> list[list[VolumeView]]:
    """One view per limb and date, each from what was written up to the end of that date only.

    Corrections must have been resolved (`series.resolved`).
    """
    margin = float(thresholds.steady_margin_mm)
    tuning = tuning or trend.Tuning(margin=margin)
    series = [series_of(h) for h in histories]
    views: list[list[VolumeView]] = [[] for _ in histories]
    plain = [i for i, h in enumerate(histories) if not _weekly(h)]
    weekly = [i for i, h in enumerate(histories) if _weekly(h)]
    for group in (plain, weekly):
        # Limbs of like length together, so that short ones do not wait for long ones.
        group = sorted(group, key=lambda i: len(series[i].day))
        for at in range(0, len(group), CHUNK):
            some = group[at : at + CHUNK]
            rows = _chunk(
                [histories[i] for i in some],
                [series[i] for i in some],
                [as_of[i] for i in some],
                settings,
                bank,
                tuning,
            )
            for i, row in zip(some, rows, strict=True):
                views[i] = row
    return views


def _weekly(history: LimbHistory) -> bool:
    return "dialysis" in history.limb.tags


def radius_mm(history: LimbHistory) -> float:
    """Of the reference circumference; 300 mm where none was entered."""
    return (history.limb.reference_circumference_mm or 300.0) / (2 * math.pi)


def _priors(histories: Sequence[LimbHistory], origin: NDArray[np.int64]) -> trend.Limbs:
    n = len(histories)
    age, coming, sd, slow = np.full(n, 400.0), np.zeros(n), np.full(n, 0.4), np.full(n, 0.4)
    weekly, weekday, even = np.zeros(n), np.zeros(n, np.int64), np.full(n, 0.05)
    for i, h in enumerate(histories):
        first = int(origin[i])
        weekday[i] = (first - 1) % 7
        if _weekly(h):
            weekly[i] = 0.3
        if h.limb.amputated_on is not None:
            age[i] = max(first - h.limb.amputated_on.toordinal(), 7)
        born = h.limb.born_on
        per_share = radius_mm(h) / 2.0
        if born is not None and first - born.toordinal() < 18 * 365.25:
            coming[i], sd[i], slow[i], even[i] = -0.15, 0.3, 0.2, 0.7
        elif h.limb.amputated_on is not None and age[i] < settling.MATURE_DAYS:
            mean = settling.expected_loss(age[i] / 7.0) * per_share
            # Tantua reports a large spread between people without a figure: 50 % and 0.15 mm are judgement.
            coming[i], sd[i], slow[i], even[i] = mean, 0.5 * mean + 0.15, 0.2, 0.02
    return trend.Limbs(age, coming, sd, weekly, weekday, slow, even)


def _answers(series: Sequence[Series], origin: NDArray[np.int64], last: NDArray[np.int64]) -> trend.Answers:
    columns: list[list[NDArray[np.generic]]] = [[] for _ in range(7)]
    for i, s in enumerate(series):
        low, high, soft, lapse = observation.answer_interval(
            fill=s.fill,
            up=s.up,
            down=s.down,
            fit=s.fit,
            moved=s.moved,
            echo=s.echo,
            prefilled=s.prefilled,
            at_floor=s.at_floor,
        )
        day = s.day - origin[i]
        ok = (day >= 0) & (day <= last[i])
        values = (np.full(len(day), i, np.int64), day, s.phase, low, high, soft, lapse)
        for column, value in zip(columns, values, strict=True):
            column.append(value[ok])
    joined = [np.concatenate(c) if c else np.zeros(0) for c in columns]
    return trend.Answers(
        joined[0].astype(np.int64),
        joined[1].astype(np.int64),
        joined[2].astype(np.int64),
        *(c.astype(np.float64) for c in joined[3:]),
    )


def _chunk(
    histories: Sequence[LimbHistory],
    series: Sequence[Series],
    as_of: Sequence[Sequence[date]],
    settings: Settings,
    bank: trend.Bank,
    tuning: trend.Tuning,
) -> list[list[VolumeView]]:
    n = len(histories)
    dates = [[d.toordinal() for d in row] for row in as_of]
    origin = np.array(
        [s.first_day if s.first_day is not None else min(r, default=1) for s, r in zip(series, dates)],
        np.int64,
    )
    last = np.array([max([*r, int(o)]) - o for r, o in zip(dates, origin)], np.int64)
    limbs = _priors(histories, origin)
    starts: list[tuple[int, int, float, float]] = []
    for i, s in enumerate(series):
        fitted = [(d, mm, u) for d, mm, u in s.baseline if d - origin[i] <= last[i]]
        starts += [(i, int(d - origin[i]), mm, math.hypot(0.4, u)) for d, mm, u in fitted]
        if not fitted and len(s.day):
            starts.append((i, 0, float(s.fill[0]), 0.5))
    table = np.array(starts, dtype=float).reshape(-1, 4)
    wanted: dict[int, list[int]] = {}
    for i, row in enumerate(dates):
        for d in sorted({int(d - origin[i]) for d in row}):
            if d >= 0:
                wanted.setdefault(d, []).append(i)
    snapshots: dict[tuple[int, int], _Numbers] = {}

    def keep(snapshot: trend.Snapshot) -> None:
        numbers = _numbers(snapshot, bank, tuning.margin)
        for row, i in enumerate(snapshot.limb):
            snapshots[int(i), snapshot.day] = {k: v[row] for k, v in numbers.items()}

    empty = np.zeros(0, np.int64)
    track = trend.run_bank(
        bank,
        limbs,
        trend.Starts(
            table[:, 0].astype(np.int64), table[:, 1].astype(np.int64), table[:, 2], table[:, 3]
        ),
        _answers(series, origin, last),
        last,
        tuning,
        lambda day: np.array(wanted[day], np.int64) if day in wanted else empty,
        keep,
    )
    count = _answered_days(series, origin, track.change.shape[0])
    span = _span_days(series, origin, track.change.shape[0])
    enough = (count >= settings.enough_days) & (span >= settings.enough_span)
    allowed = enough.copy()
    for alarm in track.alarms:
        allowed[alarm.day : alarm.day + settings.quiet_after_alarm, alarm.limb] = False
    is_steady, steady_from = steady.steady_days(
        track.above,
        track.below,
        allowed,
        enter=settings.enter,
        leave=settings.leave,
        hold=settings.hold,
    )
    out = []
    for i in range(n):
        mine = [a for a in track.alarms if a.limb == i]
        row = []
        written = np.sort(np.array([c.date.toordinal() for c in histories[i].checkins], np.int64))
        for d in dates[i]:
            t = int(d - origin[i])
            used = int(np.searchsorted(written, d, side="right"))
            row.append(
                _view(
                    histories[i],
                    series[i],
                    date.fromordinal(d),
                    used,
                    t,
                    i,
                    int(origin[i]),
                    track,
                    snapshots.get((i, t)),
                    bool(enough[t, i]) if t >= 0 else False,
                    (bool(is_steady[t, i]), int(steady_from[t, i])) if t >= 0 else (False, -1),
                    [a for a in mine if a.day <= t],
                    settings,
                    d == max(dates[i]),
                )
            )
        out.append(row)
    return out


_Numbers = dict[str, Array]


def _numbers(s: trend.Snapshot, bank: trend.Bank, margin: float) -> _Numbers:
    law, tau = bank.law[None, :], bank.tau[None, :]
    out: _Numbers = {}

    def put(name: str, mean: Array, var: Array, how: Callable[..., tuple[Array, Array, Array]]) -> None:
        out[name] = np.stack(how(s.weight, mean, var), axis=1)

    put("change", s.mean[trend.D], s.var_d, outlook.normal_interval)
    need_var = s.var_d + 2 * s.cov_db + s.var_b
    put("need", s.mean[trend.D] + s.mean[trend.B], need_var, outlook.normal_interval)
    put("swing", s.mean[trend.S], s.var_s, outlook.normal_interval)
    for days in (28, *OUTLOOK_DAYS):
        unit = settling.reach(law, tau, s.age[:, None], float(days))
        noise = bank.level_noise**2 * days
        put(f"ahead{days}", s.mean[trend.R] * unit, s.var_r * unit**2 + noise, outlook.mixture_interval)
    middle, low, high = outlook.settling_day(
        s.weight, s.mean[trend.R], np.sqrt(s.var_r) + 1e-7, bank.law, bank.tau, s.age, margin, AHEAD
    )
    out["settles"] = np.stack([middle, low, high], axis=1)
    return out


def _answered_days(series: Sequence[Series], origin: NDArray[np.int64], days: int) -> NDArray[np.int64]:
    out = np.zeros((days, len(series)), np.int64)
    for i, s in enumerate(series):
        at = np.unique(s.day - origin[i])
        at = at[(at >= 0) & (at < days)]
        out[at, i] = 1
    return np.cumsum(out, axis=0)


def _span_days(series: Sequence[Series], origin: NDArray[np.int64], days: int) -> NDArray[np.int64]:
    """Days from a limb's first answer to the day."""
    out = np.zeros((days, len(series)), np.int64)
    for i, s in enumerate(series):
        if len(s.day):
            out[:, i] = np.maximum(np.arange(days) - (s.day[0] - origin[i]), 0)
    return out


def _pct(mm: float, radius: float) -> float:
    """Percent of limb volume for a change of needed thickness: (1 - t/r)^2 - 1."""
    return ((1.0 - min(mm / radius, 0.95)) ** 2 - 1.0) * 100.0


def _pct_estimate(mm: Array, radius: float, scale_sd: float) -> Estimate:
    """Through the geometry, with the thickness table's own uncertainty as a scale on every millimetre."""
    value = float(mm[0])
    extra = 1.645 * scale_sd * abs(value)
    low = value - math.hypot(value - float(mm[1]), extra)
    high = value + math.hypot(float(mm[2]) - value, extra)
    return Estimate(_pct(value, radius), _pct(high, radius), _pct(low, radius))


def _mm_estimate(mm: Array) -> Estimate:
    return Estimate(float(mm[0]), float(mm[1]), float(mm[2]))


def _view(
    history: LimbHistory,
    series: Series,
    day: date,
    used: int,
    t: int,
    i: int,
    origin: int,
    track: trend.Track,
    numbers: _Numbers | None,
    enough: bool,
    steady_now: tuple[bool, int],
    alarms: Sequence[trend.Alarm],
    settings: Settings,
    with_band: bool,
) -> VolumeView:
    if numbers is None or used == 0:
        reason = Reason("no-checkins", "No check-ins yet.")
        return VolumeView(history.limb.id, day, used, enough=False, reasons=(reason,))
    radius = radius_mm(history)
    scale = settings.thickness_scale_sd
    reasons: list[Reason] = []
    if not enough:
        reasons.append(Reason("few-checkins", "Too few days with a check-in to speak of a trend."))
    if history.limb.reference_circumference_mm is None:
        reasons.append(Reason("no-circumference", "No reference circumference: percent assume 300 mm."))
    recent = np.flatnonzero(series.day - origin <= t)
    if len(recent) and series.at_floor[recent[-1]]:
        reasons.append(Reason("floor", "No sock is worn: a gain of volume cannot be seen."))
    ahead = numbers["ahead28"]
    settles = None
    is_steady, steady_from = steady_now
    settling_now = False
    if enough and not is_steady:
        middle, low, high = (float(x) for x in numbers["settles"])
        if not math.isnan(middle):
            settling_now = float(ahead[0]) > 0.0
            settles = DateEstimate(
                date.fromordinal(origin + t + round(middle)),
                date.fromordinal(origin + t + round(low)),
                None if math.isnan(high) else date.fromordinal(origin + t + round(high)),
            )
    shown = [
        ChangeAlarm(
            kind="volume-loss" if a.size > 0 else "volume-gain",
            since=date.fromordinal(origin + a.since),
            found_on=date.fromordinal(origin + a.day),
            size_mm=Estimate(a.size, a.size - 1.645 * a.size_sd, a.size + 1.645 * a.size_sd),
            evidence=tuple(
                series.ids[k]
                for k in np.flatnonzero(
                    (series.day - origin >= a.since) & (series.day - origin <= a.day)
                )[:20]
            ),
        )
        for a in alarms
        if t - a.day < settings.show_alarm_days
    ]
    back = None
    if t >= 28 and enough:
        sd1, sd0 = float(track.change_sd[t, i]), float(track.change_sd[t - 28, i])
        sd = math.sqrt(max(sd1 * sd1 + sd0 * sd0 - sd1 * sd0, 1e-6))
        gone = float(track.change[t, i] - track.change[t - 28, i])
        back = _pct_estimate(np.array([gone, gone - 1.645 * sd, gone + 1.645 * sd]), radius, scale)
    return VolumeView(
        limb_id=history.limb.id,
        as_of=day,
        checkins_used=used,
        enough=enough,
        reasons=tuple(reasons),
        change_pct=_pct_estimate(numbers["change"], radius, scale),
        change_28d_pct=back,
        coming_28d_pct=_pct_estimate(ahead, radius, scale) if enough else None,
        daily_swing_pct=_pct_estimate(numbers["swing"], radius, scale) if enough else None,
        level_mm=_mm_estimate(numbers["need"]),
        change_mm=_mm_estimate(numbers["change"]),
        coming_28d_mm=_mm_estimate(ahead) if enough else None,
        steady=is_steady,
        steady_since=date.fromordinal(origin + steady_from) if is_steady else None,
        settling=settling_now,
        settles_on=settles,
        outlook=tuple(Outlook(d, _mm_estimate(numbers[f"ahead{d}"])) for d in OUTLOOK_DAYS)
        if enough
        else (),
        alarms=tuple(shown),
        band=_band(track, t, i, origin, history) if with_band else (),
    )


def _band(
    track: trend.Track, t: int, i: int, origin: int, history: LimbHistory
) -> tuple[tuple[date, Estimate], ...]:
    radius = radius_mm(history)
    out = []
    for k in range(max(0, t - BAND_DAYS), t + 1):
        mm, sd = float(track.change[k, i]), 1.645 * float(track.change_sd[k, i])
        value = Estimate(_pct(mm, radius), _pct(mm + sd, radius), _pct(mm - sd, radius))
        out.append((date.fromordinal(origin + k), value))
    return tuple(out)
