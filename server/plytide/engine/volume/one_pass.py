"""One pass of the bank over a group of limbs, and what it says of each of their days."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import steady
from plytide.engine.core.bank import Answers, Bank, Beliefs, Track, Tuning, make_bank
from plytide.engine.core.kept import Keeping, Shelf, run_kept
from plytide.engine.core.trend import Look, run_bank
from plytide.engine.thresholds import DEFAULTS
from plytide.engine.volume.constants import CONSTANTS, Constants
from plytide.engine.volume.log import Log
from plytide.engine.volume.numbers import Numbers, numbers_of
from plytide.engine.volume.told import told
from plytide.model import LimbHistory

Ints = NDArray[np.int64]
Hear = Callable[[Sequence[LimbHistory], Answers], Answers]
BANK = make_bank()


@dataclass(frozen=True, slots=True)
class Method:
    """How a pass is made: the same for every limb."""

    bank: Bank = BANK
    tuning: Tuning = Tuning(margin=DEFAULTS.steady_margin_mm)
    constants: Constants = CONSTANTS


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass over a group of limbs: days x limbs, days counted from each limb's `origin`."""

    origin: Ints
    track: Track
    numbers: dict[tuple[int, int], Numbers]  # by limb and day, of the days asked for
    enough: NDArray[np.bool_]
    steady_from: Ints
    settling_from: Ints
    unsettled_from: Ints


def run_pass(
    logs: Sequence[Log],
    dates: Sequence[Sequence[int]],
    method: Method,
    *,
    hear: Hear | None = None,
    look: Callable[[Beliefs], None] | None = None,
    shelf: Shelf | None = None,
) -> Pass:
    """Over the limbs `logs`, each up to the last of its `dates`, of which the numbers are wanted.

    `hear` may replace the answers, `look` takes the beliefs instead of the numbers, a `shelf` keeps states for the next
    day where each limb is asked for one date.
    """
    ends = np.array([max(row, default=1) for row in dates], np.int64)
    began = [log.series.first_day for log in logs]
    firsts = [int(end) if day is None else day for day, end in zip(began, ends, strict=True)]
    origin = np.maximum(np.minimum(firsts, ends), ends - method.constants.longest_days).astype(np.int64)
    last = ends - origin
    asked: dict[int, list[int]] = {}
    for i, row in enumerate(dates):
        for t in sorted({int(d - origin[i]) for d in row}):
            asked.setdefault(t, []).append(i)
    numbers: dict[tuple[int, int], Numbers] = {}

    def keep(beliefs: Beliefs) -> None:
        found = numbers_of(beliefs, method.bank, method.tuning.margin, method.constants.drawn_in)
        for k, (i, t) in enumerate(zip(beliefs.limb.tolist(), beliefs.day.tolist(), strict=True)):
            numbers[i, t] = {name: row[k] for name, row in found.items()}

    given = told(logs, origin, last, method.constants)
    if shelf is not None and all(len(row) == 1 for row in dates):
        keys = [(log.history.limb.id, int(day)) for log, day in zip(logs, origin, strict=True)]
        track = run_kept(Keeping(shelf, keys, method.constants), method.bank, given, last, method.tuning, keep)
    else:
        if hear:
            given = replace(given, answers=hear([log.history for log in logs], given.answers))
        wanted = {t: np.array(who, np.int64) for t, who in asked.items() if t >= 0}
        days = int(last.max(initial=0)) + 1
        track = run_bank(method.bank, given, days, method.tuning, Look(wanted, look or keep))
    count = _answered_days(logs, origin, track.change.shape[0])
    span = _span_days(logs, origin, track.change.shape[0])
    enough = (count >= method.constants.enough_days) & (span >= method.constants.enough_span)
    is_steady, steady_from = steady.steady_days(
        track.above,
        track.below,
        enough,
        enter=method.constants.enter,
        leave=method.constants.leave,
        hold=method.constants.hold,
    )
    settling_from = _run_starts(enough & ~is_steady & (track.coming > 0.0))
    unsettled_from = _run_starts(enough & ~is_steady)
    return Pass(origin, track, numbers, enough, steady_from, settling_from, unsettled_from)


def _answered_days(logs: Sequence[Log], origin: Ints, days: int) -> Ints:
    out = np.zeros((days, len(logs)), np.int64)
    for i, log in enumerate(logs):
        at = np.unique(log.series.day - origin[i])
        at = at[(at >= 0) & (at < days)]
        out[at, i] = 1
    return np.cumsum(out, axis=0)


def _run_starts(flags: NDArray[np.bool_]) -> Ints:
    """Days x limbs: the first day of the present unbroken run of True, -1 where False."""
    day = np.arange(len(flags))[:, None]
    last_false = np.maximum.accumulate(np.where(flags, -1, day), axis=0)
    return np.where(flags, last_false + 1, -1)


def _span_days(logs: Sequence[Log], origin: Ints, days: int) -> Ints:
    """Days from a limb's first answer to the day."""
    out = np.zeros((days, len(logs)), np.int64)
    for i, log in enumerate(logs):
        if len(log.series.day):
            out[:, i] = np.maximum(np.arange(days) - (log.series.day[0] - origin[i]), 0)
    return out
