"""From the bank's beliefs to numbers with 90 % intervals: mixtures of normals, and the settling day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core.observation import normal_cdf
from plytide.engine.core.settling import fade, reach

Array = NDArray[np.float64]
TAIL = 0.05
# Of the settling day. On simulated limbs its middle came some days early, and 90 % held more than that: set on the
# cohorts `first` and `broad` (judgement). Said only where settling within the days looked at is as likely as KNOWN.
EARLY, MIDDLE, LATE = 0.06, 0.55, 0.945
KNOWN = 0.8


def pooled(weight: Array, mean: Array, var: Array) -> tuple[Array, Array]:
    """Mean and standard deviation of each row's mixture; rows x members."""
    centre = np.einsum("nm,nm->n", weight, mean)
    square = np.einsum("nm,nm->n", weight, var + (mean - centre[:, None]) ** 2)
    return np.asarray(centre), np.sqrt(np.maximum(square, 1e-12))


def mixture_interval(weight: Array, mean: Array, var: Array) -> tuple[Array, Array, Array]:
    """Mean and 90 % interval of each row's mixture of normals, by bisection to 0.1 % of its sd.

    5 % of a mixture cannot lie further than sqrt(19) sd from its mean (Cantelli's inequality).
    """
    centre, spread = pooled(weight, mean, var)
    scale = 1.0 / (np.sqrt(np.maximum(var, 0.0)) + 1e-6)

    def quantile(q: float) -> Array:
        low, high = centre - 4.4 * spread, centre + 4.4 * spread
        for _ in range(13):
            middle = 0.5 * (low + high)
            under = np.einsum("nm,nm->n", weight, normal_cdf((middle[:, None] - mean) * scale)) < q
            low, high = np.where(under, middle, low), np.where(under, high, middle)
        return np.asarray(0.5 * (low + high))

    return centre, quantile(TAIL), quantile(1.0 - TAIL)


def normal_interval(weight: Array, mean: Array, var: Array) -> tuple[Array, Array, Array]:
    """The same by the first two moments: enough where the members differ little."""
    centre, spread = pooled(weight, mean, var)
    return centre, centre - 1.6448536 * spread, centre + 1.6448536 * spread


@dataclass(frozen=True, slots=True)
class Courses:
    """Rows of mixtures: so much is given to each course (law and tau), with its rate and the limb's age."""

    share: Array
    rate: Array
    rate_sd: Array
    law: NDArray[np.int64]
    tau: Array
    age: Array

    def reach(self, h: float, days: float) -> Array:
        """The change in `days` days, from `h` days on, for a rate of 1 now."""
        law, tau, age = self.law[None, :], self.tau[None, :], self.age[:, None]
        return fade(law, tau, age, h) * reach(law, tau, age + h, days) if h else reach(law, tau, age, days)

    def chance_within(self, unit: Array, margin: float) -> Array:
        """That a change of `unit` for a rate of 1 stays within the margin."""
        bound = margin / np.maximum(unit, 1e-9)
        inside = normal_cdf((bound - self.rate) / self.rate_sd) - normal_cdf((-bound - self.rate) / self.rate_sd)
        return np.asarray(np.einsum("nm,nm->n", self.share, inside))


def settling_day(courses: Courses, margin: float, ahead: Array) -> tuple[Array, Array, Array]:
    """Days from now until the coming 28-day change first stays within the margin, if it does not do so yet: the middle
    and both ends of 90 %.

    P(settled by day h) is the weight of the members times the chance that their rate is small enough: |r| fade(h)
    reach(28 from h) <= margin. Of that, the chance that it is so today is taken off: who is asked for the day is not
    there yet, and a date that counts those who are comes too early. Rows limbs, `ahead` the days looked at (first 0,
    rising). NaN where the chance never gets there, and both ends where it does not get to `KNOWN`: then the day can't
    be known.
    """
    chance = np.stack([courses.chance_within(courses.reach(h, 28.0), margin) for h in ahead], axis=1)
    chance = np.maximum.accumulate(chance, axis=1)
    today = chance[:, :1]
    there = today[:, 0] > 1.0 - TAIL / 10
    chance = np.where(there[:, None], 1.0, (chance - today) / np.maximum(1.0 - today, TAIL / 10))
    known = chance[:, -1] >= KNOWN

    def day_at(q: float) -> Array:
        reached = chance >= q
        first = np.argmax(reached, axis=1)
        out = ahead[first].astype(float)
        inner = first > 0
        rows = np.flatnonzero(inner)
        c1, c0 = chance[rows, first[rows]], chance[rows, first[rows] - 1]
        h1, h0 = ahead[first[rows]], ahead[first[rows] - 1]
        out[rows] = h0 + (q - c0) / np.maximum(c1 - c0, 1e-12) * (h1 - h0)
        return np.where(reached.any(axis=1), out, np.nan)

    return day_at(MIDDLE), np.where(known, day_at(EARLY), np.nan), np.where(known, day_at(LATE), np.nan)


def stays_within(courses: Courses, margin: float, ahead: Array, chance: float = 0.9) -> Array:
    """The furthest of the days `ahead` up to which the change stays within the margin with so much chance; 0: none.

    A course along a law only rises or only falls, so that it stays within as long as it is within.
    """
    far = np.zeros(len(courses.share))
    going = np.ones(len(courses.share), np.bool_)
    for h in ahead:
        going = going & (courses.chance_within(courses.reach(0.0, h), margin) >= chance)
        far = np.where(going, h, far)
    return far
