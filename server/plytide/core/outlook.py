"""From the bank's beliefs to numbers with 90 % intervals: mixtures of normals, and the settling day."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from plytide.core.observation import normal_cdf
from plytide.core.settling import fade, reach

Array = NDArray[np.float64]
TAIL = 0.05


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


def settling_day(
    weight: Array,
    rate: Array,
    rate_sd: Array,
    law: NDArray[np.int64],
    tau: Array,
    age: Array,
    margin: float,
    ahead: Array,
) -> tuple[Array, Array, Array]:
    """Days from now until the coming 28-day change first stays within the margin: median, 5 % and 95 %.

    P(settled by day h) is the weight of the members times the chance that their rate is small enough:
    |r| fade(h) reach(28 from h) <= margin. Rows limbs, `ahead` the days looked at (first 0, rising).
    NaN where the chance never gets there.
    """
    n = len(weight)
    chance = np.empty((n, len(ahead)))
    for k, h in enumerate(ahead):
        later = age[:, None] + h
        unit = fade(law[None, :], tau[None, :], age[:, None], h) * reach(law[None, :], tau[None, :], later, 28.0)
        bound = margin / np.maximum(unit, 1e-9)
        inside = normal_cdf((bound - rate) / rate_sd) - normal_cdf((-bound - rate) / rate_sd)
        chance[:, k] = np.einsum("nm,nm->n", weight, inside)
    chance = np.maximum.accumulate(chance, axis=1)

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

    return day_at(0.5), day_at(0.05), day_at(0.95)
