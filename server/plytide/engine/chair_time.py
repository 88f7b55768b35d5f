"""How many recasts a caseload needs in each coming week. Pure: forecasts in, counts with intervals out.

Each limb gives a probability for each week, and the reason it is counted for; limbs are taken as independent, so a
week's count follows the Poisson-binomial distribution, worked out exactly by convolution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from plytide.engine.facts import short

WEEKS = 8
Array = NDArray[np.float64]

# Judgement: how a clinic with a usual diary books a limb that can be recast now, over the coming weeks.
BOOKED = (0.35, 0.3, 0.2, 0.15)
# Of what is due, three in four are booked so, and the rest at this rate a week: judgement.
DUE_IN_TIME, LATE_A_WEEK = 0.75, 1 / 8
# Of provisional sockets on a limb that has become steady, two in five; the others stay on for half a year: judgement.
READY_IN_TIME, LEFT_A_WEEK = 0.4, 1 / 26
# Later sockets last 1 to 5 years (common practice): about one in three a year, spread evenly.
USUAL_A_WEEK = 1 / (3 * 52)
LEAST_NAMED = 0.01


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is known of one limb: what was decided, what is due, or readiness with the forecast of its settling.

    `settles` is (middle, low, high) of the 90 % interval, high None where it may never come. `provisional`: the
    socket worn is a diagnostic or preparatory one, so that a definitive one is still to come. `remake`: first and last
    day on which the definitive socket is planned after a diagnostic one, worn or planned itself. `since` and `why` are
    the state's own. `not_before`: it was decided to wait, or to keep the socket, until then.
    """

    limb_id: str
    state: str
    provisional: bool
    settles: tuple[date, date, date | None] | None = None
    planned_on: date | None = None
    decided_on: date | None = None
    remake: tuple[date, date] | None = None
    not_before: date | None = None
    since: date | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Counted:
    """A limb in a week, with the reason it is counted for."""

    limb_id: str
    chance: float
    code: str
    words: str


@dataclass(frozen=True, slots=True)
class Week:
    start: date
    expected: float
    low: int
    high: int
    named: tuple[Counted, ...]  # limbs with a reason, likeliest first
    quiet_limbs: int  # the others, which have the usual small rate
    quiet_expected: float


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


def delay(weeks: int, in_time: float, late: float) -> Array:
    """Chance of each week after a limb became ready: `in_time` of them as BOOKED, the others at the rate `late`."""
    booking = [in_time * share for share in BOOKED]
    afterwards = [(1 - in_time) * late * (1 - late) ** n for n in range(max(weeks - len(BOOKED), 0))]
    return np.array([*booking, *afterwards])[:weeks]


def booked(ready: date, monday: date, weeks: int, in_time: float = DUE_IN_TIME, late: float = LATE_A_WEEK) -> Array:
    """Chance of each week for a limb that could be recast from `ready` on and has not been yet."""
    elapsed = (monday - ready).days // 7
    gone = min(max(elapsed, 0), len(BOOKED))  # beyond that the rate no longer changes
    coming = delay(gone + weeks, in_time, late)
    left = coming[gone:] / (1 - coming[:gone].sum())
    ahead = min(max(-elapsed, 0), weeks)
    return np.concatenate([np.zeros(ahead), left[: weeks - ahead]])


def in_span(first: date, last: date, monday: date, weeks: int) -> Array:
    """Chance of each week for what is planned on one of the days `first` to `last`; days gone by count for today."""
    out = np.zeros(weeks)
    for n in range((last - first).days + 1):
        week = max(((first + timedelta(days=n)) - monday).days // 7, 0)
        if week < weeks:
            out[week] += 1
    return out / ((last - first).days + 1)


def counted(limb: Forecast, monday: date, weeks: int = WEEKS, today: date | None = None) -> tuple[Array, str, str]:
    """(probability of a recast in each week, reason code, words): no code for a limb with the usual small rate."""
    today = today or monday
    if limb.planned_on is not None:
        out = in_span(limb.planned_on, limb.planned_on, monday, weeks)
        words = f"Planned for {short(limb.planned_on)}."
        if limb.remake and limb.remake[0] > limb.planned_on:  # the definitive socket after a planned diagnostic one
            out = np.minimum(out + in_span(*limb.remake, monday, weeks), 1)
            words = f"Diagnostic socket planned for {short(limb.planned_on)}, the definitive one some weeks later."
        return out, "planned", words
    code, words = "", ""
    if limb.decided_on is not None:
        out, code, words = (
            booked(limb.decided_on, monday, weeks),
            "decided",
            f"Decided on {short(limb.decided_on)}, no day yet.",
        )
    elif limb.state == "held":
        return np.zeros(weeks), "", ""
    elif limb.remake is not None:
        first, last = limb.remake
        code, words = "remake", f"Definitive socket planned after the diagnostic one, {short(first)} to {short(last)}."
        if first == last:
            words = f"The next socket is planned for {short(first)}."
        out = in_span(first, last, monday, weeks)
        if last < today:
            out, words = (
                booked(last, monday, weeks),
                f"Definitive socket was planned by {short(last)} and is not entered.",
            )
    elif limb.state == "due":
        out, code, words = booked(limb.since or monday, monday, weeks), "due", limb.why
    elif limb.provisional and limb.settles is not None and limb.state in ("settling", "changing"):
        edges = [monday + timedelta(days=7 * n) for n in range(weeks + 1)]
        reached = np.array([settled_by(edge, limb.settles) for edge in edges])
        settle = np.diff(reached)
        settle[0] += reached[0]  # already there by the forecast
        out, code = np.convolve(settle, delay(weeks, READY_IN_TIME, LEFT_A_WEEK))[:weeks], "forecast"
        words = f"Provisional socket; forecast to be within the margin about {short(limb.settles[0])}."
    elif limb.state == "steady" and limb.provisional:
        out = booked(limb.since or monday, monday, weeks, READY_IN_TIME, LEFT_A_WEEK)
        since = f" since {short(limb.since)}" if limb.since else ""
        code, words = "ready", f"Provisional socket, and the limb is steady{since}."
    else:
        return np.full(weeks, USUAL_A_WEEK), "", ""
    if limb.not_before and limb.not_before > today:
        out, words = booked(limb.not_before, monday, weeks), f"{words} Decided to wait until {short(limb.not_before)}."
    return out, code, words


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
    rows = [counted(limb, monday, weeks, today) for limb in limbs]
    table = np.array([row[0] for row in rows]).reshape(len(limbs), weeks)
    quiet = np.array([not row[1] for row in rows], dtype=bool) & (table > 0).any(axis=1)
    out = []
    for week in range(weeks):
        chances = table[:, week]
        low, high = interval(counts(chances))
        named = [
            Counted(limb.limb_id, float(chance), code, words)
            for limb, chance, (_, code, words) in zip(limbs, chances, rows, strict=True)
            if code and chance >= LEAST_NAMED
        ]
        out.append(
            Week(
                monday + timedelta(days=7 * week),
                float(chances.sum()),
                low,
                high,
                tuple(sorted(named, key=lambda one: (-one.chance, one.limb_id))),
                int(quiet.sum()),
                float(chances[quiet].sum()),
            )
        )
    return out
