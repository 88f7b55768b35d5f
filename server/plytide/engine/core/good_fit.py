"""Days of good fit: on how many coming days the limb lies within a band of what the socket then worn was made for.

A plan is the days, from now, on which casts are made; each socket is delivered some days after its cast and worn until
the next one is. A socket is made for the limb of its cast day; the one worn now for the change 0. The laws say
    change from now to day h = r reach(h),   r the rate now,
which only rises or only falls, so that a socket fits from one day to another and never again: both days follow in
closed form from the inverse of `reach`. What is believed of the change d and the rate r is a normal for each law (the
members of one law and time constant joined by their moments), taken at equally likely values: paths, each with a
weight. Their mean is the expected number of days, their quantiles its range. The day-to-day wobble is left out: it
passes by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core.settling import reach, until

Array = NDArray[np.float64]
Plan = tuple[int, ...]

RATES, CHANGES = 11, 3  # values each normal is taken at
TAIL = 0.05
SMALLEST = 1e-9  # mm a day
LATER_DAYS = 21  # the far end of "two to three weeks", after which a diagnostic socket is made again: common practice
CASTS = (*range(0, 141, 7), *range(154, 337, 14))
NO_BETTER = 0.5  # days: a later cast that gains no more than this is no better
AT_ONCE = 48  # limbs worked on together: keeps the paths in the processor's cache


@dataclass(frozen=True, slots=True)
class Aim:
    """What a good fit is: within `band` mm, over `horizon` days from now, a socket `delivery` days after its cast."""

    band: float = 1.4
    horizon: int = 365
    delivery: int = 14


@dataclass(frozen=True, slots=True)
class Paths:
    """Futures of some limbs. `weight` rows x laws x rates x changes; `rate` rows x laws x rates; `change` as `weight`;
    `law`, `tau` of each law, `age` of each row."""

    weight: Array
    rate: Array
    change: Array
    law: NDArray[np.int64]
    tau: Array
    age: Array


@dataclass(frozen=True, slots=True)
class Best:
    """Of each row: the cast day with most expected days of good fit, and where 9 of 10 futures have theirs.

    `days`, `now`, `later` and `two_step`: rows x (mean, low, high) days of good fit if cast on that day, today, after
    `later_days`, or today and again after `later_days`.
    """

    day: Array  # rows x (best, low, high)
    days: Array
    now: Array
    later: Array
    two_step: Array


@cache
def _even_values(count: int) -> tuple[float, ...]:
    """`count` equally likely values of a standard normal, with variance 1."""
    raw = [NormalDist().inv_cdf((k + 0.5) / count) for k in range(count)]
    scale = (sum(x * x for x in raw) / count) ** -0.5 if count > 1 else 1.0
    return tuple(x * scale for x in raw)


@dataclass(frozen=True, slots=True)
class ByLaw:
    """What is believed of change and rate, one normal for each law and time constant: rows x laws. Before they are
    joined, one for each member of the bank.
    """

    share: Array
    change: Array
    rate: Array
    var_change: Array
    var_rate: Array
    shared: Array  # covariance of the two
    law: NDArray[np.int64]
    tau: Array
    age: Array  # of each row


def by_law(members: ByLaw) -> ByLaw:
    """Members of one law and time constant, which differ in the wobble only, joined by their moments."""
    law, tau = members.law, members.tau
    order = np.lexsort((tau, law))
    new = np.flatnonzero(np.diff(law[order], prepend=-1) | np.diff(tau[order], prepend=-1.0).astype(np.bool_))
    count = np.diff(new, append=len(law))
    ids, taus = law[order][new], tau[order][new]
    weight, change, rate, var_change, var_rate, shared = (
        each[:, order]
        for each in (
            *(members.share, members.change, members.rate),
            *(members.var_change, members.var_rate, members.shared),
        )
    )
    # Sums that come out the same to the last digit whatever other rows stand beside: a replay says what was said.
    share = np.add.reduceat(weight, new, axis=1)
    safe = np.maximum(share, 1e-300)

    def mean(values: Array) -> Array:
        return np.asarray(np.add.reduceat(weight * values, new, axis=1) / safe)

    d, r = mean(change), mean(rate)
    off_d, off_r = change - np.repeat(d, count, axis=1), rate - np.repeat(r, count, axis=1)
    return ByLaw(
        share,
        d,
        r,
        mean(var_change + off_d**2),
        np.maximum(mean(var_rate + off_r**2), SMALLEST**2),
        mean(shared + off_d * off_r),
        ids,
        taus,
        members.age,
    )


def paths_of(believed: ByLaw) -> Paths:
    """The futures of rows of normals, each along its law."""
    slope = believed.shared / believed.var_rate
    left = np.sqrt(np.maximum(believed.var_change - slope**2 * believed.var_rate, 0.0))
    z, y = np.array(_even_values(RATES)), np.array(_even_values(CHANGES))
    rates = believed.rate[:, :, None] + np.sqrt(believed.var_rate)[:, :, None] * z
    middle = believed.change[:, :, None] + slope[:, :, None] * (rates - believed.rate[:, :, None])
    changes = middle[..., None] + left[:, :, None, None] * y
    even = np.broadcast_to((believed.share / (RATES * CHANGES))[:, :, None, None], changes.shape)
    return Paths(np.asarray(even), rates, changes, believed.law, believed.tau, believed.age)


def days_by_path(paths: Paths, plans: Sequence[Plan], aim: Aim) -> Array:
    """Days of good fit of each plan: rows x laws x rates x changes x plans."""
    casts = sorted({day for plan in plans for day in plan})
    at = {day: k for k, day in enumerate(casts)}
    law, tau, age = paths.law[None, :, None], paths.tau[None, :, None], paths.age[:, None, None]
    speed = np.maximum(np.abs(paths.rate), SMALLEST)[..., None]
    so_far = reach(law, tau, age, np.array(casts, float)[None, None, :])[:, :, None, :]
    far = paths.law[None, :, None, None], paths.tau[None, :, None, None], paths.age[:, None, None, None]
    ends = until(*far, so_far + aim.band / speed)  # rows x laws x rates x casts
    moved = np.where(paths.rate >= 0, 1.0, -1.0)[..., None] * paths.change
    begins_now = until(*far, np.maximum((-aim.band - moved) / speed, 0.0))
    over = moved > aim.band
    ends_now = np.where(over, 0.0, until(*far, np.maximum((aim.band - moved) / speed, 0.0)))
    first = np.array([min(plan[0] + aim.delivery, aim.horizon) if plan else aim.horizon for plan in plans], float)
    out = np.maximum(np.minimum(ends_now[..., None], first) - begins_now[..., None], 0.0)
    for n in range(max(map(len, plans))):
        has = [k for k, plan in enumerate(plans) if len(plan) > n]
        start = np.array([plans[k][n] + aim.delivery for k in has], float)
        stop = np.array(
            [min(plans[k][n + 1] + aim.delivery if len(plans[k]) > n + 1 else aim.horizon, aim.horizon) for k in has],
            float,
        )
        fits = np.minimum(ends[..., [at[plans[k][n]] for k in has]], stop) - start
        out[..., has] += np.maximum(fits, 0.0)[:, :, :, None, :]
    return np.asarray(out)


def days_of_good_fit(paths: Paths, plans: Sequence[Plan], aim: Aim) -> Array:
    """Expected days of each plan: rows x plans."""
    return np.asarray(np.einsum("nkrc,nkrcp->np", paths.weight, days_by_path(paths, plans, aim)))


def quantiles(values: Array, weight: Array, tail: float = TAIL) -> tuple[Array, Array]:
    """The `tail` and 1 - `tail` quantiles of each row of weighted values."""
    order = np.argsort(values, axis=1)
    rising = np.cumsum(np.take_along_axis(weight, order, axis=1), axis=1)
    rising /= rising[:, -1:]

    def at(q: float) -> Array:
        return np.take_along_axis(values, np.take_along_axis(order, _first(rising >= q), axis=1), axis=1)[:, 0]

    return at(tail), at(1.0 - tail)


def _first(flags: NDArray[np.bool_]) -> NDArray[np.int64]:
    return np.asarray(np.argmax(flags, axis=1)[:, None])


def best_cast(paths: Paths, aim: Aim, casts: Sequence[int] = CASTS) -> Best:
    """When one cast would serve longest. `casts` begin with 0 and hold `LATER_DAYS`."""
    rows = len(paths.age)
    parts = [_best_cast(_rows(paths, slice(at, at + AT_ONCE)), aim, casts) for at in range(0, rows, AT_ONCE)]
    if not parts:
        return Best(*(np.zeros((0, 3)) for _ in Best.__slots__))
    return Best(*(np.concatenate([getattr(part, name) for part in parts]) for name in Best.__slots__))


def _best_cast(paths: Paths, aim: Aim, casts: Sequence[int]) -> Best:
    plans: list[Plan] = [*((day,) for day in casts), (0, LATER_DAYS)]
    found = days_by_path(paths, plans, aim)
    weight, rows = paths.weight.reshape(len(paths.age), -1), np.arange(len(paths.age))
    found = found.reshape(len(rows), -1, len(plans))
    mean = np.minimum(np.einsum("nq,nqp->np", weight, found), aim.horizon)
    days = np.array(casts, float)
    singles = mean[:, :-1]
    best = np.argmax(singles >= singles.max(axis=1, keepdims=True) - NO_BETTER, axis=1)
    each = found[..., :-1]
    own = days[np.argmax(each >= each.max(axis=2, keepdims=True) - NO_BETTER, axis=2)]
    low, high = quantiles(own, weight)

    def estimates(which: NDArray[np.int64]) -> Array:
        middle, (low, high) = mean[rows, which], quantiles(found[rows, :, which], weight)
        return np.stack([middle, np.minimum(low, middle), np.maximum(high, middle)], axis=1)

    def one(plan: int) -> Array:
        return estimates(np.full(len(rows), plan))

    middle = days[best]
    return Best(
        day=np.stack([middle, np.minimum(low, middle), np.maximum(high, middle)], axis=1),
        days=estimates(best),
        now=one(0),
        later=one(list(casts).index(LATER_DAYS)),
        two_step=one(len(plans) - 1),
    )


FIRSTS = (0, 7, 14, 21, 28, 42, 56, 84, 112, 140)
GAPS = (21, 28, 42, 56, 70, 84, 112, 140, 182, 224, 266)


def best_two_casts(paths: Paths, aim: Aim) -> tuple[Array, Array]:
    """The days of the two casts that together give most expected days of good fit, of each row."""
    plans = [(first, first + gap) for first in FIRSTS for gap in GAPS if first + gap + aim.delivery < aim.horizon]
    found = [
        days_of_good_fit(_rows(paths, slice(at, at + AT_ONCE)), plans, aim) for at in range(0, len(paths.age), AT_ONCE)
    ]
    mean = np.concatenate(found) if found else np.zeros((0, len(plans)))
    best = np.argmax(mean >= mean.max(axis=1, keepdims=True) - NO_BETTER, axis=1)
    first, second = np.array(plans, float).T
    return first[best], second[best]


def _rows(paths: Paths, which: slice) -> Paths:
    return Paths(paths.weight[which], paths.rate[which], paths.change[which], paths.law, paths.tau, paths.age[which])
