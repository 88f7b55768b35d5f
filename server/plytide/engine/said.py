"""What was said of a limb, held against what its log showed later.

A saying is kept when it is said, and never made again: a late entry changes what the log shows, and no saying. What the
log shows is told by socks and fit cues alone, not by the engine: the mean of the days around a day, in mm of sock.
Such a reading is not exact either, so that a range counts as held where the reading lies in it, allowing for that. How
much is allowed was set on four cohorts of 300 simulated limbs: the shares that held came out within 0.06 of the truth.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core.observation import answer_interval
from plytide.engine.series import series_of
from plytide.engine.volume.constants import AIM
from plytide.engine.volume.percent import radius_mm
from plytide.model import Assessment, Estimate, LimbHistory, Said

Range = tuple[float, float]

EACH_DAYS = 7  # a saying is kept so often, and whenever the state is another one: judgement
AHEAD_DAYS = 28  # of the coming change that is told
AROUND_RANGE, AROUND_STEADY = 7, 13  # days either side of a reading: judgement, set on simulated limbs
LEAST_ENTRIES = 4  # of a reading: judgement
# mm: what a reading of socks and fit does not tell of a level, of a change, and of one from longer readings.
LEVEL_SD, CHANGE_SD, STEADY_SD = 0.2, 0.23, 0.2
APART = 0.05  # so far, 9 times in 10, such a share lies from the true one however many are counted
Z_90 = 1.6448536
COPIED = 0.5  # what a phone filled in tells nothing


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether something said held; None: the log does not tell, or another socket came between."""

    on: date
    held: bool | None


def said_of(found: Assessment, history: LimbHistory, margin_mm: float) -> Said:
    """What an assessment tells, as it is kept: without the limb's size, which may be put right later."""
    radius = radius_mm(history)
    # The chart's own level, which leaves out what nobody can see in a log: by how much all socks are off together.
    last = found.band[-1] if found.band and found.band[-1][0] == found.as_of else None
    change = last[1] if last and found.change_pct is not None else found.change_pct
    return Said(found.as_of, found.state, margin_mm, _mm(change, radius), _mm(found.coming_28d_pct, radius))


def _mm(told: Estimate | None, radius: float) -> Range | None:
    if told is None:
        return None
    low, high = (radius * (1.0 - math.sqrt(max(0.0, 1.0 + pct / 100.0))) for pct in (told.high, told.low))
    return low, high


def is_due(last: Said | None, now: Said) -> bool:
    """Whether this saying is to be kept after the last one that was."""
    return last is None or last.state != now.state or (now.on - last.on).days >= EACH_DAYS


@dataclass(frozen=True, slots=True)
class Shown:
    """What socks and fit cues show of one limb, by day."""

    day: NDArray[np.int64]
    need: NDArray[np.float64]
    worn: tuple[tuple[int, int, float | None], ...]  # of each socket: first day, end, and what it was made for

    @staticmethod
    def of(history: LimbHistory) -> Shown:
        s = series_of(history)
        low, high, _, lapse = answer_interval(
            fill=s.fill, up=s.up, down=s.down, fit=s.fit, moved=s.moved, echo=s.echo, prefilled=s.prefilled,
            at_floor=s.at_floor,
        )  # fmt: skip
        need = (np.maximum(low, s.fill - s.down) + np.minimum(high, s.fill + s.up)) / 2
        tells = lapse < COPIED
        made_for = {day: mm for day, mm, sd in s.baseline if math.isfinite(sd)}
        starts = [(one.fitted_on.toordinal(), one) for one in s.sockets]
        worn = []
        for n, (start, socket) in enumerate(starts):
            # Of two worn by turns the one fitted later counts, as everywhere.
            ends = [starts[n + 1][0]] if n + 1 < len(starts) else []
            ends += [socket.retired_on.toordinal()] if socket.retired_on else []
            worn.append((start, min(ends, default=date.max.toordinal()), made_for.get(start)))
        return Shown(s.day[tells], need[tells], tuple(worn))

    def socket(self, day: int) -> tuple[int, int, float | None] | None:
        return next((one for one in self.worn if one[0] <= day < one[1]), None)

    def reading(self, day: int, around: int) -> float | None:
        """The need about a day, in the socket worn on it; None where too little is logged."""
        socket = self.socket(day)
        if socket is None:
            return None
        first, last = max(day - around, socket[0]), min(day + around, socket[1] - 1)
        at, to = np.searchsorted(self.day, [first, last + 1])
        return float(self.need[at:to].mean()) if to - at >= LEAST_ENTRIES else None

    def change(self, day: int, later: int, around: int) -> float | None:
        """Between two days in one socket; None where another came between, or too little is logged."""
        if self.socket(day) != self.socket(later):
            return None
        before, after = self.reading(day, around), self.reading(later, around)
        return None if before is None or after is None else after - before


def _within(shown: float, told: Range, sd: float) -> bool:
    middle, half = (told[0] + told[1]) / 2, (told[1] - told[0]) / 2
    return abs(shown - middle) <= math.hypot(half, Z_90 * sd)


def levels(shown: Shown, told: Sequence[Said], today: date) -> Iterator[Verdict]:
    """Of each range told of the change since the fitting, a week later: whether it held."""
    for one in _apart(told):
        day = one.on.toordinal()
        if one.change is None or one.on + timedelta(days=AROUND_RANGE) > today:
            continue
        socket, level = shown.socket(day), shown.reading(day, AROUND_RANGE)
        made_for = socket[2] if socket else None
        known = None if level is None or made_for is None else _within(level - made_for, one.change, LEVEL_SD)
        yield Verdict(one.on, known)


def comings(shown: Shown, told: Sequence[Said], today: date) -> Iterator[Verdict]:
    """Of each range told of the coming four weeks, when they are over: whether it held."""
    for one in _apart(told):
        day = one.on.toordinal()
        if one.coming is None or one.on + timedelta(days=AHEAD_DAYS + AROUND_RANGE) > today:
            continue
        change = shown.change(day, day + AHEAD_DAYS, AROUND_RANGE)
        yield Verdict(one.on, None if change is None else _within(change, one.coming, CHANGE_SD))


def _apart(told: Sequence[Said]) -> Iterator[Said]:
    """Sayings a week apart: those that a new state brought in between say nearly the same."""
    last: date | None = None
    for one in told:
        if last is None or (one.on - last).days >= EACH_DAYS:
            last = one.on
            yield one


def steadies(shown: Shown, told: Sequence[Said], days: int, today: date) -> Iterator[Verdict]:
    """Of each time "steady" was said anew, so many days later: whether the need had moved no more than the margin.

    How it stood is read from the four weeks around either day, so it is counted when those are over.
    """
    before: str | None = None
    for one in told:
        anew = one.state == "steady" and before != "steady"
        before = one.state
        day = one.on.toordinal()
        if anew and one.on + timedelta(days=days + AROUND_STEADY) <= today:
            change = shown.change(day, day + days, AROUND_STEADY)
            within = (-one.margin_mm, one.margin_mm)
            yield Verdict(one.on, None if change is None else _within(change, within, STEADY_SD))


@dataclass(frozen=True, slots=True)
class Fit:
    """Days in one socket: with the need known, and with a good fit; whether it is worn still."""

    known: int
    good: int
    worn: bool


def good_fit(shown: Shown, today: date) -> Iterator[Fit]:
    """Of each socket: days on which the need, read over a fortnight, lay within a band of what it was made for."""
    end, last = today.toordinal() + 1, int(shown.day.max(initial=0))
    for start, over, made_for in shown.worn:
        if made_for is None:
            continue
        days = np.arange(start, min(over, end, last + AROUND_RANGE + 1))
        # As `reading` of each of them: the mean of what lies about it.
        at = np.searchsorted(shown.day, np.maximum(days - AROUND_RANGE, start))
        to = np.searchsorted(shown.day, np.minimum(days + AROUND_RANGE, over - 1) + 1)
        known = to - at >= LEAST_ENTRIES
        sums = np.concatenate([[0.0], np.cumsum(shown.need)])
        level = (sums[to] - sums[at])[known] / (to - at)[known]
        if len(level):
            yield Fit(len(level), int((np.abs(level - made_for) <= AIM.band).sum()), over >= end)
