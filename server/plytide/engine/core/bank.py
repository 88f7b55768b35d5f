"""The members of the filter bank and what it is given: all frozen, all arrays. No computation.

Lengths in mm, times in days, counted from each limb's own first day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import settling

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

D, R, B, S, W = range(5)  # the states of `trend`: change, rate, baseline, swing, wobble
TAPE = 3  # the slot of a tape measurement; 0-2 are the parts of the day
HARMONICS = 3
OFFSET_SD = 6.0  # mm: before the first tape nothing is known of where its scale starts


@dataclass(frozen=True, slots=True)
class Layout:
    """Which further states a group of limbs needs, and where they stand; None: not needed, and nothing is spent on it.

    `earlier` is what the limb had changed by when the socket worn was fitted, `offset` what a tape measurement reads
    beside the change since then, `weekly` the first state of the weekly cycle.
    """

    states: int
    earlier: int | None
    offset: int | None
    weekly: int | None

    @staticmethod
    def of(*, earlier: bool, offset: bool, weekly: bool) -> Layout:
        at = 5
        where: list[int | None] = []
        for needed, size in ((earlier, 1), (offset, 1), (weekly, 2 * HARMONICS)):
            where.append(at if needed else None)
            at += size if needed else 0
        return Layout(at, *where)

    @property
    def standing(self) -> tuple[int, ...]:
        """The states to which a socket's change is added when the next is fitted."""
        return tuple(k for k in (self.earlier, self.offset) if k is not None)


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
        (settling.EXPONENTIAL, 12.0, 0.08),
        (settling.EXPONENTIAL, 22.0, 0.10),
        (settling.EXPONENTIAL, 40.0, 0.12),
        (settling.EXPONENTIAL, 70.0, 0.13),
        (settling.EXPONENTIAL, 120.0, 0.12),
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

    Low, high, soft and lapse as in `observation`. For a tape row `low` is the change measured since the first tape,
    `soft` the standard deviation of this measurement by itself, and `high` by how much (sd) what all tapes share may
    have moved since the one before: another hand, or the same one's habit.
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
    alarm: float = 4.9
    alarm_slope: float = 1.0
    alarm_weekly: float = 0.8  # more where the week has a cycle of its own, of which a part is always left over
    quiet_wobble: float = 0.2  # mm: up to here the alarm is as it stands
    least_days: int = 5  # days with an answer before a change can be called sudden
    window: int = 11  # start days of a jump kept in view
    swing_sd: float = 0.3
    jump_sd: float = 0.6
    slow_sd: float = 0.12  # mm in 28 days
    odd_tape: float = 3.0  # a tape further off than so many sd is heard as if it were just so far off


@dataclass(frozen=True, slots=True)
class Told:
    """All that the bank is told of some limbs."""

    limbs: Limbs
    starts: Starts
    answers: Answers

    def layout(self) -> Layout:
        """The states these limbs have a use for."""
        return Layout.of(
            earlier=bool(np.any(self.starts.day > 0)),
            offset=bool(np.any(self.answers.slot == TAPE)),
            weekly=bool(np.any(self.limbs.weekly > 0)),
        )


@dataclass(frozen=True, slots=True)
class Beliefs:
    """What the members believe of some limbs at the end of some days: rows x members, all in mm.

    `d` change since this socket was fitted, `limb_d` since day 0, `r` rate, `s` swing, `need` their need; each with its
    variance, and `cov_dr` of change and rate. `tail`, one a row: the larger chance of a coming change beyond the margin
    on one side.
    """

    limb: Ints
    day: Ints
    weight: Array
    d: Array
    limb_d: Array
    r: Array
    s: Array
    need: Array
    var_d: Array
    var_limb_d: Array
    var_r: Array
    cov_dr: Array
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
class State:
    """All the filter knows of some limbs at the end of a day: what a later day needs, and nothing else.

    `a`, `p`, `log_weight` as in `trend`; the rest are the sums of `change.Watch`, their days counted from the next day.
    """

    layout: Layout
    a: Array
    p: Array
    log_weight: Array
    total: Array
    left: Array
    begun: Ints
    wobble: Array
    days: Ints

    def of(self, limb: int) -> State:
        one = slice(limb, limb + 1)
        return State(self.layout, *(_picked(getattr(self, name), name, one) for name in State.__slots__[1:]))

    @staticmethod
    def joined(states: Sequence[State]) -> State:
        """Of limbs that have the same layout."""
        return State(
            states[0].layout,
            *(
                np.concatenate([getattr(each, name) for each in states], axis=LIMB_AXIS.get(name, 0))
                for name in State.__slots__[1:]
            ),
        )


LIMB_AXIS = {"a": 1, "p": 2, "left": 1}  # of the arrays whose first axis is not the limbs


def _picked(array: NDArray[Any], name: str, which: slice) -> NDArray[Any]:
    return array[(slice(None),) * LIMB_AXIS.get(name, 0) + (which,)].copy()


@dataclass(frozen=True, slots=True)
class Heard:
    """What one tape measurement did: the limb's change since day 0 as believed before and after it, in mm."""

    limb: int
    day: int
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Track:
    """Day by day, days x limbs: change since the socket worn was fitted, since day 0 (`limb`), and need (mean, sd),
    the coming 28-day change and its two tails."""

    change: Array
    change_sd: Array
    limb: Array
    limb_sd: Array
    need: Array
    need_sd: Array
    coming: Array
    coming_sd: Array
    above: Array
    below: Array
    alarms: tuple[Alarm, ...]
    tapes: tuple[Heard, ...]
