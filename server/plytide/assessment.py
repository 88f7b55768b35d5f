"""Observations to what can be said about volume on a day. Batched over limbs; no clock, no I/O."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from plytide.core import observation, outlook, settling, steady, trend
from plytide.core.bank import TAPE, Alarm, Answers, Bank, Beliefs, Limbs, Starts, Track, Tuning, make_bank
from plytide.model import DateEstimate, Estimate, LimbHistory, Outlook, Reason
from plytide.series import Series, series_of
from plytide.thresholds import DEFAULTS, Thresholds

Array = NDArray[np.float64]

CHUNK = 128  # limbs per pass: keeps the bank in the processor's cache
OUTLOOK_DAYS = (14, 30, 60, 90)
BAND_DAYS = 400
AHEAD = np.array(
    [0, 3, 7, 11, 15, 20, 25, 30, 36, 43, 50, 60, 70, 80, 95, 110, 130, 150, 180, 220, 280, 360, 500], float
)
BANK = make_bank()


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
    unsettled_since: date | None = None  # first of the days in a row that were known well enough and not steady
    settles_on: DateEstimate | None = None
    outlook: tuple[Outlook, ...] = ()
    alarms: tuple[ChangeAlarm, ...] = ()
    band: tuple[tuple[date, Estimate], ...] = ()


@dataclass(frozen=True, slots=True)
class Settings:
    """Numbers of the engine that a clinic does not set. Judgement, set on simulated limbs."""

    enough_days: int = 6  # days with an answer before anything is said about a trend
    enough_span: int = 7
    enter: float = 0.03
    leave: float = 0.06
    hold: int = 3
    show_alarm_days: int = 14
    # The bank hedges between laws: on simulated limbs its 90 % interval of a coming change covers 94 to 95 %, so what
    # is told is drawn in by this. The steady claim is not: it keeps the whole width.
    drawn_in: float = 0.92
    quiet_after_alarm: int = 7
    # Each sock is off by 15 % or so, by itself; of a change, in which two socks or so take part, 10 % is left.
    thickness_scale_sd: float = 0.10
    unknown_make_sd: float = 0.25
    pad_sd_share: float = 0.35  # a pad takes up its thickness, give or take this share
    # Tape volume twice by different hands: reliability coefficient 257 ml of about 2 l, i.e. an sd of 6.5 %.
    tape_sd_share: float = 0.065
    longest_days: int = 2000  # further back than this before the last date is not filtered


SETTINGS = Settings()

Told = Callable[[Sequence[LimbHistory], Answers], Answers]
_Numbers = dict[str, Array]


@dataclass(frozen=True, slots=True)
class DailyVolume:
    """Day by day from a limb's first: steady or not; and its alarms, whenever they were found."""

    steady: NDArray[np.bool_]
    alarms: tuple[Alarm, ...]


def volume_by_day(
    histories: Sequence[LimbHistory],
    last: date,
    settings: Settings = SETTINGS,
    told: Told | None = None,
    tuning: Tuning | None = None,
    bank: Bank = BANK,
) -> list[DailyVolume]:
    """The steady claim and the alarms alone, up to `last`: much cheaper than a view a day.

    `told` may replace what the engine hears, `bank` what it thinks possible, to score it with truth it can't see.
    """
    tuning = tuning or Tuning(margin=DEFAULTS.steady_margin_mm)
    out: list[DailyVolume | None] = [None] * len(histories)
    for weekly in (False, True):
        group = [i for i, h in enumerate(histories) if _weekly(h) is weekly]
        for at in range(0, len(group), CHUNK):
            some = group[at : at + CHUNK]
            mine = [histories[i] for i in some]
            ends = [[last.toordinal()]] * len(some)
            one = _pass(mine, [series_of(h) for h in mine], ends, settings, bank, tuning, told)
            for k, i in enumerate(some):
                alarms = tuple(a for a in one.track.alarms if a.limb == k)
                out[i] = DailyVolume(one.steady_from[:, k] >= 0, alarms)
    return [each for each in out if each is not None]


def assess_volume(
    histories: Sequence[LimbHistory],
    as_of: Sequence[Sequence[date]],
    thresholds: Thresholds = DEFAULTS,
    settings: Settings = SETTINGS,
    bank: Bank = BANK,
    tuning: Tuning | None = None,
) -> list[list[VolumeView]]:
    """One view per limb and date, each from what was written up to the end of that date only.

    Corrections must have been resolved (`series.resolved`).
    """
    margin = float(thresholds.steady_margin_mm)
    tuning = tuning or Tuning(margin=margin)
    series = [series_of(h) for h in histories]
    views: list[list[VolumeView]] = [[] for _ in histories]
    plain = [i for i, h in enumerate(histories) if not _weekly(h)]
    weekly = [i for i, h in enumerate(histories) if _weekly(h)]
    for group in (plain, weekly):
        # Limbs of like length together, so that short ones do not wait for long ones.
        group = sorted(group, key=lambda i: _length(series[i], as_of[i]))
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


def _length(series: Series, dates: Sequence[date]) -> int:
    first = series.first_day
    return max((d.toordinal() for d in dates), default=0) - first if first is not None else 0


def _weekly(history: LimbHistory) -> bool:
    return "dialysis" in history.limb.tags


def radius_mm(history: LimbHistory) -> float:
    """Of the reference circumference; 300 mm where none was entered."""
    return (history.limb.reference_circumference_mm or 300.0) / (2 * math.pi)


def _priors(histories: Sequence[LimbHistory], origin: NDArray[np.int64]) -> Limbs:
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
    return Limbs(age, coming, sd, weekly, weekday, slow, even)


def _starts(series: Sequence[Series], origin: NDArray[np.int64], last: NDArray[np.int64], settings: Settings) -> Starts:
    """Each socket's fitting, and for a limb without one at its first day what was worn then."""
    rows: list[tuple[int, int, float, float]] = []
    pads: list[tuple[int, int, float]] = []
    for i, s in enumerate(series):
        fitted = [(max(d - int(origin[i]), 0), mm, u) for d, mm, u in s.baseline if d - origin[i] <= last[i]]
        if not any(day == 0 for day, _, _ in fitted) and len(s.day):
            rows.append((i, 0, float(s.fill[0]), 0.6))
        # Half a step either way, and the wobble of the day; the stack's own error is in both ends of a change.
        # No sock at the fitting may also mean that none was entered.
        rows += [(i, day, mm, 0.4 if mm else 0.8) for day, mm, _ in fitted]
        pads += [
            (i, int(on - origin[i]), settings.pad_sd_share * mm) for on, mm in s.pads if 0 <= on - origin[i] <= last[i]
        ]
    table, pad = np.array(rows, float).reshape(-1, 4), np.array(pads, float).reshape(-1, 3)
    return Starts(
        table[:, 0].astype(np.int64),
        table[:, 1].astype(np.int64),
        table[:, 2],
        table[:, 3],
        pad[:, 0].astype(np.int64),
        pad[:, 1].astype(np.int64),
        pad[:, 2],
    )


def _answers(
    histories: Sequence[LimbHistory],
    series: Sequence[Series],
    origin: NDArray[np.int64],
    last: NDArray[np.int64],
    settings: Settings,
) -> Answers:
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
        for on, mm, _ in s.tapes:
            if 0 <= on - origin[i] <= last[i]:
                sd = settings.tape_sd_share * radius_mm(histories[i]) / 2.0
                for column, value in zip(columns, (i, on - origin[i], TAPE, mm, mm, sd, 0.0), strict=True):
                    column.append(np.array([value]))
    joined = [np.concatenate(c) if c else np.zeros(0) for c in columns]
    return Answers(
        joined[0].astype(np.int64),
        joined[1].astype(np.int64),
        joined[2].astype(np.int64),
        *(c.astype(np.float64) for c in joined[3:]),
    )


@dataclass(frozen=True, slots=True)
class _Pass:
    """One pass over a group of limbs: days x limbs, days counted from each limb's `origin`."""

    origin: NDArray[np.int64]
    track: Track
    said: dict[tuple[int, int], _Numbers]
    enough: NDArray[np.bool_]
    steady_from: NDArray[np.int64]
    settling_from: NDArray[np.int64]
    unsettled_from: NDArray[np.int64]


def _pass(
    histories: Sequence[LimbHistory],
    series: Sequence[Series],
    dates: Sequence[Sequence[int]],
    settings: Settings,
    bank: Bank,
    tuning: Tuning,
    told: Told | None,
) -> _Pass:
    ends = np.array([max(row, default=1) for row in dates], np.int64)
    firsts = [s.first_day if s.first_day is not None else int(end) for s, end in zip(series, ends, strict=True)]
    origin = np.maximum(np.minimum(firsts, ends), ends - settings.longest_days).astype(np.int64)
    last = ends - origin
    asked: dict[int, list[int]] = {}
    for i, row in enumerate(dates):
        for t in sorted({int(d - origin[i]) for d in row}):
            asked.setdefault(t, []).append(i)
    said: dict[tuple[int, int], _Numbers] = {}

    def keep(beliefs: Beliefs) -> None:
        numbers = _numbers(beliefs, bank, tuning.margin, settings.drawn_in)
        for k, (i, t) in enumerate(zip(beliefs.limb.tolist(), beliefs.day.tolist(), strict=True)):
            said[i, t] = {name: row[k] for name, row in numbers.items()}

    answers = _answers(histories, series, origin, last, settings)
    track = trend.run_bank(
        bank,
        _priors(histories, origin),
        _starts(series, origin, last, settings),
        told(histories, answers) if told else answers,
        int(last.max(initial=0)) + 1,
        tuning,
        {t: np.array(who, np.int64) for t, who in asked.items() if t >= 0},
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
    settling_from = _run_starts(enough & ~is_steady & (track.coming > 0.0))
    unsettled_from = _run_starts(enough & ~is_steady)
    return _Pass(origin, track, said, enough, steady_from, settling_from, unsettled_from)


def _chunk(
    histories: Sequence[LimbHistory],
    series: Sequence[Series],
    as_of: Sequence[Sequence[date]],
    settings: Settings,
    bank: Bank,
    tuning: Tuning,
) -> list[list[VolumeView]]:
    dates = [[d.toordinal() for d in row] for row in as_of]
    one = _pass(histories, series, dates, settings, bank, tuning, None)
    out = []
    for i, history in enumerate(histories):
        mine = [a for a in one.track.alarms if a.limb == i]
        views: list[VolumeView] = []
        written = np.sort(np.array([c.date.toordinal() for c in history.checkins], np.int64))
        for d in dates[i]:
            t = int(d - one.origin[i])
            used = int(np.searchsorted(written, d, side="right"))
            views.append(
                _view(
                    history,
                    series[i],
                    date.fromordinal(d),
                    used,
                    t,
                    i,
                    int(one.origin[i]),
                    one.track,
                    one.said.get((i, t)),
                    bool(one.enough[t, i]) if t >= 0 else False,
                    (int(one.steady_from[t, i]), int(one.settling_from[t, i]), int(one.unsettled_from[t, i]))
                    if t >= 0
                    else (-1, -1, -1),
                    [a for a in mine if a.day <= t],
                    settings,
                    d == max(dates[i]),
                )
            )
        out.append(views)
    return out


def _numbers(s: Beliefs, bank: Bank, margin: float, drawn_in: float) -> _Numbers:
    law, tau = bank.law[None, :], bank.tau[None, :]
    out: _Numbers = {}

    def put(name: str, mean: Array, var: Array, how: Callable[..., tuple[Array, Array, Array]]) -> None:
        out[name] = np.stack(how(s.weight, mean, var), axis=1)

    put("change", s.d, s.var_d, outlook.normal_interval)
    put("need", s.need, s.var_need, outlook.normal_interval)
    put("swing", s.s, s.var_s, outlook.normal_interval)
    rate, unit = s.r, settling.reach(law, tau, s.age[:, None], 28.0)
    noise = bank.level_noise**2
    coming, coming_var = rate * unit, s.var_r * unit**2 + noise * 28
    put("ahead28", coming, coming_var, outlook.mixture_interval)
    out["ahead28"] = out["ahead28"][:, :1] + drawn_in * (out["ahead28"] - out["ahead28"][:, :1])
    centre, spread = outlook.pooled(s.weight, coming, coming_var)
    tails = (out["ahead28"] - centre[:, None]) / spread[:, None]
    for days in OUTLOOK_DAYS:
        # The mixture has much the same shape over any number of days, so its quantiles are scaled.
        far = settling.reach(law, tau, s.age[:, None], float(days))
        centre, spread = outlook.pooled(s.weight, rate * far, s.var_r * far**2 + noise * days)
        out[f"ahead{days}"] = centre[:, None] + tails * spread[:, None]
    # Who is steady has no settling day to come: the work is spared.
    rows = np.flatnonzero(s.tail > 0.01)
    out["settles"] = np.full((len(s.limb), 3), np.nan)
    middle, low, high = outlook.settling_day(
        s.weight[rows], rate[rows], np.sqrt(s.var_r[rows]) + 1e-7, bank.law, bank.tau, s.age[rows], margin, AHEAD
    )
    out["settles"][rows] = np.stack([middle, low, high], axis=1)
    return out


def _answered_days(series: Sequence[Series], origin: NDArray[np.int64], days: int) -> NDArray[np.int64]:
    out = np.zeros((days, len(series)), np.int64)
    for i, s in enumerate(series):
        at = np.unique(s.day - origin[i])
        at = at[(at >= 0) & (at < days)]
        out[at, i] = 1
    return np.cumsum(out, axis=0)


def _run_starts(flags: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Days x limbs: the first day of the present unbroken run of True, -1 where False."""
    day = np.arange(len(flags))[:, None]
    last_false = np.maximum.accumulate(np.where(flags, -1, day), axis=0)
    return np.where(flags, last_false + 1, -1)


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


def _negated(estimate: Estimate) -> Estimate:
    return Estimate(-estimate.value, -estimate.high, -estimate.low)


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
    track: Track,
    numbers: _Numbers | None,
    enough: bool,
    since: tuple[int, int, int],
    alarms: Sequence[Alarm],
    settings: Settings,
    with_band: bool,
) -> VolumeView:
    if numbers is None or used == 0:
        reason = Reason("no-checkins", "No check-ins yet.")
        return VolumeView(history.limb.id, day, used, enough=False, reasons=(reason,))
    radius = radius_mm(history)
    reasons: list[Reason] = []
    if not enough:
        reasons.append(Reason("few-checkins", "Too few days with a check-in to speak of a trend."))
    if history.limb.reference_circumference_mm is None:
        reasons.append(Reason("no-circumference", "No reference circumference: percent assume 300 mm."))
    recent = np.flatnonzero(series.day - origin <= t)
    doubtful = len(recent) > 0 and bool(series.unknown_make[recent[-1]])
    scale = settings.unknown_make_sd if doubtful else settings.thickness_scale_sd
    if len(recent) and series.at_floor[recent[-1]]:
        reasons.append(Reason("floor", "No sock is worn: a gain of volume cannot be seen."))
    ahead = numbers["ahead28"]
    settles = None
    steady_from, settling_from, unsettled_from = since
    is_steady, settling_now = steady_from >= 0, False
    if enough and not is_steady:
        middle, low, high = (float(x) for x in numbers["settles"])
        if not math.isnan(middle):
            settling_now = settling_from >= 0
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
                for k in np.flatnonzero((series.day - origin >= a.since) & (series.day - origin <= a.day))[:20]
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
    elif enough:
        reasons.append(Reason("under-four-weeks", "Less than four weeks are known: no change over 28 days yet."))
    return VolumeView(
        limb_id=history.limb.id,
        as_of=day,
        checkins_used=used,
        enough=enough,
        reasons=tuple(reasons),
        change_pct=_pct_estimate(numbers["change"], radius, scale),
        change_28d_pct=back,
        coming_28d_pct=_pct_estimate(ahead, radius, scale) if enough else None,
        # Said as a loss: positive where the limb is smaller at the end of the day than in the morning.
        daily_swing_pct=_negated(_pct_estimate(numbers["swing"], radius, scale)) if enough else None,
        level_mm=_mm_estimate(numbers["need"]),
        change_mm=_mm_estimate(numbers["change"]),
        coming_28d_mm=_mm_estimate(ahead) if enough else None,
        steady=is_steady,
        steady_since=date.fromordinal(origin + steady_from) if is_steady else None,
        settling=settling_now,
        settling_since=date.fromordinal(origin + settling_from) if settling_now else None,
        unsettled_since=date.fromordinal(origin + unsettled_from) if unsettled_from >= 0 else None,
        settles_on=settles,
        outlook=tuple(Outlook(d, _mm_estimate(numbers[f"ahead{d}"])) for d in OUTLOOK_DAYS) if enough else (),
        alarms=tuple(shown),
        band=_band(track, t, i, origin, history) if with_band else (),
    )


def _band(track: Track, t: int, i: int, origin: int, history: LimbHistory) -> tuple[tuple[date, Estimate], ...]:
    first, radius = max(0, t - BAND_DAYS), radius_mm(history)
    mm = track.change[first : t + 1, i]
    sd = 1.6448536 * track.change_sd[first : t + 1, i]
    pct = ((1.0 - np.minimum(np.stack([mm, mm + sd, mm - sd]) / radius, 0.95)) ** 2 - 1.0) * 100.0
    return tuple((date.fromordinal(origin + first + k), Estimate(*three)) for k, three in enumerate(pct.T.tolist()))
