"""Days of good fit: what the engine's best day for a cast buys, against rules of thumb and against an oracle.

Counted are the days of a limb's first year on which its slow level lies within the band of what the socket then worn
was made for: the first for the day of its fitting, each later one for the day of its cast, delivered 14 days after.
Limbs: settling ones whose coming four weeks exceed the margin at the fitting. A rule that has not spoken by the end of
the log is taken to cast on day 120. No engine code; what the engine said comes in as days.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seed_demo.cohort import Simulated

Array = NDArray[np.float64]
YEAR, DELIVERY, FALL_BACK, APART = 365, 14, 120, 21
LAST_CAST = YEAR - DELIVERY
BANDS = (1.4, 0.7)
MOST_PLY = 10
MARGIN = 0.7


@dataclass(frozen=True, slots=True)
class Said:
    """What the engine said of one limb, day by day of its log; NaN where it said nothing.

    `best`: days until the best cast; `days`: of good fit if cast today; `first`, `second`: days until the best two
    casts; `steady`: whether it was.
    """

    best: Array
    days: Array
    first: Array
    second: Array
    steady: NDArray[np.bool_]


def counts(level: Array, band: float) -> Array:
    """(casts + 1) x (days + 1): days of good fit up to each day in the socket of each cast day; the last row is the
    first socket's."""
    made_for = np.concatenate([level[: LAST_CAST + 1], level[:1]])
    fits = np.abs(level[None, :YEAR] - made_for[:, None]) <= band
    return np.concatenate([np.zeros((len(fits), 1)), np.cumsum(fits, axis=1)], axis=1)


def days_of(table: Array, casts: Sequence[int]) -> float:
    """Days of good fit with these casts."""
    edges = [0, *(min(cast + DELIVERY, YEAR) for cast in casts), YEAR]
    rows = [len(table) - 1, *(min(cast, LAST_CAST) for cast in casts)]
    return float(sum(table[row, b] - table[row, a] for row, a, b in zip(rows, edges, edges[1:], strict=False)))


def best_of_one(table: Array) -> float:
    casts = np.arange(LAST_CAST + 1)
    got = table[casts, YEAR] - table[casts, casts + DELIVERY] + table[-1, casts + DELIVERY]
    return float(max(got.max(), table[-1, YEAR]))


def best_of_two(table: Array, apart: int | None = None) -> float:
    """The most two casts could give; `apart`: the second so many days after the first."""
    casts = np.arange(LAST_CAST + 1)
    until = casts + DELIVERY
    first = table[-1, until]
    second = table[casts, YEAR] - table[casts, until]
    between = table[:-1, :][:, until] - table[casts, until][:, None]  # socket of row, until that of column is delivered
    both = first[:, None] + between + second[None, :]
    if apart is not None:
        return float(np.diagonal(both, apart).max())
    return float(both[np.triu_indices(len(casts), 1)].max())


def first_day(flags: Sequence[bool] | NDArray[np.bool_], other: int = FALL_BACK) -> int:
    at = np.flatnonzero(np.asarray(flags))
    return int(at[0]) if len(at) else other


def cast_by_engine(said: Said) -> int:
    """The first day on which no later one is said to be better, day 120 at the latest, as for every rule."""
    return first_day(said.best == 0.0)


def two_by_engine(said: Said) -> tuple[int, int]:
    """The first day on which the first of the best two casts is said to be today, and the second as planned then."""
    first = first_day(said.first == 0.0)
    gap = said.second[min(first, len(said.second) - 1)]
    return first, first + (YEAR // 4 if np.isnan(gap) else int(gap))


def path_by_engine(said: Said) -> tuple[int, int]:
    """A diagnostic cast three weeks before the best day, the definitive one then."""
    first = min(first_day(said.best <= APART), FALL_BACK - APART)
    return first, first + APART


def plies(person: Simulated) -> NDArray[np.bool_]:
    """Whether more than so many ply were worn, day by day."""
    start, over = person.history.sockets[0].fitted_on, np.zeros(person.days + 1, np.bool_)
    for one in person.history.checkins:
        over[(one.date - start).days] |= sum(sock.ply for sock in one.stack) > MOST_PLY
    return over


def perfect(person: Simulated) -> int:
    coming = np.abs(person.truth.smooth_coming_mm())
    return min(first_day(coming <= MARGIN, LAST_CAST), LAST_CAST)


def settles_late(person: Simulated) -> bool:
    return person.truth.trend.startswith("settling") and abs(float(person.truth.smooth_coming_mm()[0])) > MARGIN


Rule = Callable[[Simulated, Said], Sequence[int]]


def rules(same_stack: Callable[[Simulated], NDArray[np.bool_]]) -> dict[str, Rule]:
    """By name: the cast days of a rule."""
    return {
        "never recast": lambda p, s: (),
        "after three weeks": lambda p, s: (APART,),
        f"more than {MOST_PLY} ply": lambda p, s: (first_day(plies(p)),),
        "same stack 14 d": lambda p, s: (first_day(same_stack(p)),),
        "fixed day 120": lambda p, s: (FALL_BACK,),
        "truly steady, told at once": lambda p, s: (perfect(p),),
        "engine: first steady": lambda p, s: (first_day(s.steady),),
        "engine: its best day": lambda p, s: (cast_by_engine(s),),
        "two: days 21 and 120": lambda p, s: (APART, FALL_BACK),
        "two: days 60 and 180": lambda p, s: (60, 180),
        "two: engine": lambda p, s: two_by_engine(s),
        "path: days 21 and 42": lambda p, s: (APART, 2 * APART),
        "path: days 99 and 120": lambda p, s: (FALL_BACK - APART, FALL_BACK),
        "path: engine": lambda p, s: path_by_engine(s),
    }


def figures(
    people: Sequence[Simulated], said: Sequence[Said], by_name: Mapping[str, Rule], band: float
) -> dict[str, float]:
    """Mean days of good fit of each rule, and of the oracles, over the limbs that settle late."""
    total: dict[str, list[float]] = {}
    for person, each in zip(people, said, strict=True):
        if not settles_late(person):
            continue
        table = counts(person.truth.level_mm, band)
        for name, rule in by_name.items():
            total.setdefault(name, []).append(days_of(table, rule(person, each)))
        total.setdefault("oracle", []).append(best_of_one(table))
        total.setdefault("oracle, two", []).append(best_of_two(table))
        total.setdefault("oracle, path", []).append(best_of_two(table, APART))
    return {name: float(np.mean(got)) for name, got in total.items()}
