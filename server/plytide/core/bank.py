"""The members of the filter bank and what it is given: all frozen, all arrays. No computation.

Lengths in mm, times in days, counted from each limb's own first day.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plytide.core import settling

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

D, R, B, S, W = range(5)  # the states of `trend`: change, rate, baseline, swing, wobble
TAPE = 3  # the slot of a tape measurement; 0-2 are the parts of the day


@dataclass(frozen=True, slots=True)
class Bank:
    """Members of the bank: law, tau (days), wobble sd (mm), autocorrelation a day, weight within its law's kind.

    `level_noise` in mm per sqrt(day) and `rate_noise` in mm/day per sqrt(day): what no law foresees.
    """

    law: Ints
    tau: Array
    wobble: Array
    rho: Array
    prior: Array
    level_noise: float = 0.004
    rate_noise: float = 0.0001

    @property
    def size(self) -> int:
        return len(self.tau)


def make_bank(
    laws: tuple[tuple[int, float, float], ...] = (
        (settling.SLOW, 1.0, 1.0),
        (settling.EVEN, 1.0, 1.0),
        (settling.LOG_TIME, 1.0, 0.45),
        (settling.EXPONENTIAL, 12.0, 0.12),
        (settling.EXPONENTIAL, 22.0, 0.16),
        (settling.EXPONENTIAL, 40.0, 0.16),
        (settling.EXPONENTIAL, 75.0, 0.11),
    ),
    wobbles: tuple[float, ...] = (0.1, 0.2, 0.4, 0.7),
    rhos: tuple[float, ...] = (0.4, 0.8),
    level_noise: float = 0.004,
    rate_noise: float = 0.0001,
) -> Bank:
    """Every law (law, tau, prior weight) with every wobble size and autocorrelation. Weights: judgement."""
    rows = [(law, tau, p, w, rho) for law, tau, p in laws for w in wobbles for rho in rhos]
    law, tau, p, w, rho = (np.array(column, float) for column in zip(*rows, strict=True))
    return Bank(law.astype(np.int64), tau, w, rho, p / p.sum(), level_noise, rate_noise)


@dataclass(frozen=True, slots=True)
class Answers:
    """Observations, one row each, at most one of a limb, day and slot. `slot` 0-2 part of day, 3 tape.

    Low, high, soft and lapse as in `observation`. For a tape row `low` is the measured change since the
    fitting and `soft` its standard deviation.
    """

    limb: Ints
    day: Ints
    slot: Ints
    low: Array
    high: Array
    soft: Array
    lapse: Array


@dataclass(frozen=True, slots=True)
class Starts:
    """Sockets fitted: limb, day, mean and sd of the need on that day. A limb's first one is its day 0.

    `pad_limb`, `pad_day`, `pad_sd`: pads added, by which the need may shift unseen by so many mm.
    """

    limb: Ints
    day: Ints
    mean: Array
    sd: Array
    pad_limb: Ints
    pad_day: Ints
    pad_sd: Array


@dataclass(frozen=True, slots=True)
class Limbs:
    """What is known of each limb beforehand.

    `age`: days from amputation to day 0; `coming`/`coming_sd`: prior of the change over the first 28 days;
    `weekly`: sd of the weekly cycle (0: none); `weekday`: weekday of day 0; `slow` and `even`: prior
    chance of hardly any trend and of an even one.
    """

    age: Array
    coming: Array
    coming_sd: Array
    weekly: Array
    weekday: Ints
    slow: Array
    even: Array


@dataclass(frozen=True, slots=True)
class Tuning:
    """Settings of the filter. All judgement, set on simulated limbs."""

    margin: float = 0.7
    jumps: tuple[float, ...] = (0.5, -0.5, 1.0, -1.0)
    alarm: float = 4.3
    alarm_slope: float = 1.0
    quiet_wobble: float = 0.2  # mm: up to here the alarm is as it stands
    least_days: int = 5  # days with an answer before a change can be called sudden
    window: int = 11  # start days of a jump kept in view
    swing_sd: float = 0.3
    jump_sd: float = 0.6
    slow_sd: float = 0.12  # mm in 28 days


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What the members believe of some limbs at the end of some days: rows x members, all in mm.

    `d` change, `r` rate, `s` swing, `need` their need; each with its variance. `tail`, one a row: the
    larger chance of a coming change beyond the margin on one side.
    """

    limb: Ints
    day: Ints
    weight: Array
    d: Array
    r: Array
    s: Array
    need: Array
    var_d: Array
    var_r: Array
    var_s: Array
    var_need: Array
    age: Array
    tail: Array


@dataclass(frozen=True, slots=True)
class Alarm:
    """A sudden change found on `day`, begun about `since`; `size` mm of need, give or take `size_sd`."""

    limb: int
    day: int
    since: int
    size: float
    size_sd: float


@dataclass(frozen=True, slots=True)
class Track:
    """Day by day, days x limbs: change and need (mean, sd), the coming 28-day change and its two tails."""

    change: Array
    change_sd: Array
    need: Array
    need_sd: Array
    coming: Array
    coming_sd: Array
    above: Array
    below: Array
    alarms: tuple[Alarm, ...]
