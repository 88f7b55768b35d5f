"""Shares and middles of what was counted, each with its 90 % interval, in closed form.

A share has Wilson's score interval (Wilson 1927, from memory; compared with statsmodels in the tests): it stays inside
0 and 1 and is of use for small numbers. A middle has the order statistics between which the true median lies, whatever
the distribution (binomial; common practice): from five values on there is such an interval at 90 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, sqrt
from statistics import median

Z_90 = 1.6448536269514722  # the normal's 95 % point: 5 % outside on either side
OUTSIDE = 0.10


@dataclass(frozen=True, slots=True)
class Interval:
    """A figure and where it lies, 9 times in 10."""

    value: float
    low: float
    high: float


def share(hits: int, of: int, worth: float | None = None) -> Interval:
    """`hits` of `of` as a share; `worth`: how many cases they are worth (see `worth`), where not all of them.

    Raises ValueError where there is nothing to take a share of.
    """
    if of < 1 or not 0 <= hits <= of:
        raise ValueError(f"{hits} of {of}")
    p, z2, n = hits / of, Z_90**2, of if worth is None else worth
    middle = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = Z_90 / (1 + z2 / n) * sqrt(p * (1 - p) / n + z2 / (4 * n * n))
    # At the ends the bound is exactly 0 or 1; rounding must not say otherwise.
    return Interval(p, 0.0 if hits == 0 else max(0.0, middle - half), 1.0 if hits == of else min(1.0, middle + half))


def worth(groups: Sequence[tuple[int, int]]) -> float:
    """How many independent cases (hits, of) of several people are worth: fewer, where the people differ.

    All cases over the design effect of the share as a ratio (Rao and Scott 1992, from memory). Where all or none are
    hits nothing tells how people differ: then as many as there are people (judgement).
    """
    hits, of = sum(hit for hit, _ in groups), sum(size for _, size in groups)
    people, p = len(groups), hits / of
    if of == people:
        return of
    if hits in (0, of) or people < 2:
        return people
    spread = sum((hit - p * size) ** 2 for hit, size in groups) * people / (people - 1) / of**2
    return min(float(of), p * (1 - p) / spread) if spread else of


def middle(values: Sequence[float]) -> Interval | None:
    """The median; None where there are too few for an interval at 90 %."""
    ordered = sorted(values)
    n = len(ordered)
    outside, rank = 0.0, 0
    while rank < n:
        outside += 2 * comb(n, rank) / 2**n
        if outside > OUTSIDE:
            break
        rank += 1
    return Interval(median(ordered), ordered[rank - 1], ordered[n - rank]) if rank else None
