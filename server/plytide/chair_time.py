"""How many recasts a caseload needs in each coming week. Pure: forecasts in, counts with intervals out.

Each limb gives a probability for each week; limbs are taken as independent, so a week's count follows the
Poisson-binomial distribution, worked out exactly by convolution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

WEEKS = 8
Array = NDArray[np.float64]

# Judgement: how a clinic with a usual diary books a limb that can be recast now, over the coming weeks.
BOOKED = (0.35, 0.3, 0.2, 0.15)
# Later sockets last 1 to 5 years (common practice): about one in three a year, spread evenly.
USUAL_A_WEEK = 1 / (3 * 52)


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is known of one limb: a planned day, or readiness with the forecast of its settling.

    `settles` is (middle, low, high) of the 90 % interval, high None where it may never come. `provisional`: the
    socket worn is a diagnostic or preparatory one, so that a definitive one is still to come.
    """

    limb_id: str
    state: str
    provisional: bool
    settles: tuple[date, date, date | None] | None = None
    planned_on: date | None = None


@dataclass(frozen=True, slots=True)
class Week:
    start: date
    expected: float
    low: int
    high: int
    chances: tuple[tuple[str, float], ...]  # limbs with a chance worth naming, likeliest first


def settled_by(day: date, settles: tuple[date, date, date | None]) -> float:
    """Probability that the limb has settled by `day`: a normal on either side of the middle, through the 5 and
    95 % points. Where the far point is missing, one limb in four is taken never to settle in sight (judgement)."""
    middle, low, high = settles
    offset = (day - middle).days
    if offset <= 0:
        spread = max((middle - low).days, 1) / 1.645
        return 0.5 * (1 + math.erf(offset / spread / math.sqrt(2)))
    if high is None:
        spread = max((middle - low).days, 14) / 1.645 * 2
        return 0.5 + 0.25 * math.erf(offset / spread / math.sqrt(2))
    spread = max((high - middle).days, 1) / 1.645
    return 0.5 * (1 + math.erf(offset / spread / math.sqrt(2)))


def week_chances(limb: Forecast, monday: date, weeks: int = WEEKS) -> Array:
    """Probability of a recast in each week, shape (weeks,)."""
    out = np.zeros(weeks)
    if limb.planned_on is not None:
        week = (limb.planned_on - monday).days // 7
        if 0 <= week < weeks:
            out[week] = 1.0
        elif week < 0:
            out[0] = 1.0  # planned for a day that has passed and not yet done
        return out
    ready = limb.state == "due" or (limb.state == "steady" and limb.provisional)
    if ready:
        booked = np.zeros(weeks)
        booked[: len(BOOKED)] = BOOKED[:weeks]
        return booked
    if limb.provisional and limb.settles is not None and limb.state in ("settling", "changing"):
        edges = [monday + timedelta(days=7 * n) for n in range(weeks + 1)]
        reached = np.array([settled_by(edge, limb.settles) for edge in edges])
        settle = np.diff(reached)
        settle[0] += reached[0]  # already there by the forecast
        return np.convolve(settle, BOOKED)[:weeks]
    if limb.state == "held":
        return out
    return np.full(weeks, USUAL_A_WEEK)


def counts(chances: Array) -> Array:
    """Distribution of the number of successes of independent trials: shape (n + 1,), summing to 1."""
    spread = np.ones(1)
    for chance in chances[chances > 0]:
        spread = np.convolve(spread, (1 - chance, chance))
    return spread


def interval(spread: Array, share: float = 0.9) -> tuple[int, int]:
    """The smallest and largest count of the central interval of a distribution of counts."""
    reached = np.cumsum(spread)
    tail = (1 - share) / 2
    low = int(np.searchsorted(reached, tail))
    high = int(np.searchsorted(reached, 1 - tail - 1e-12))
    return low, min(high, len(spread) - 1)


def chair_time(limbs: Sequence[Forecast], today: date, weeks: int = WEEKS) -> list[Week]:
    """The coming weeks, each from its Monday, this week first."""
    monday = today - timedelta(days=today.weekday())
    table = np.array([week_chances(limb, monday, weeks) for limb in limbs]).reshape(len(limbs), weeks)
    out = []
    for week in range(weeks):
        chances = table[:, week]
        low, high = interval(counts(chances))
        named = sorted(
            ((limb.limb_id, float(chance)) for limb, chance in zip(limbs, chances, strict=True) if chance >= 0.05),
            key=lambda row: (-row[1], row[0]),
        )
        out.append(Week(monday + timedelta(days=7 * week), float(chances.sum()), low, high, tuple(named)))
    return out
