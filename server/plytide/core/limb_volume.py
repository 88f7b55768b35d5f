"""Limb volume from millimetres of sock and from a tape measure.

Truncated cones: V = Σ h (C1² + C1 C2 + C2²) / (12 π) (the frustum formula of limb volumetry). Sock geometry:
a body of mean radius r = C / 2π under t mm of sock has dV/V = (1 + t/r)² − 1, the ends ignored.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

TAPE_ERROR_MM = 5.0  # Geil 2007 (JRRD 44(4):515): digital and hand dimensions differ by about 5 mm
BETWEEN_RATERS_ML = 256.85  # reliability coefficient of tape volume between raters (Prosthet Orthot Int, 10 users)

DOFFING_TAU_MIN = 8 / math.log(20)  # derived: 95 % of the swelling within 8 min (Zachariah 2004, JRRD 41(5):683)


class CannotCompare(ValueError):
    """limb_volume: two measurements taken at different heights say nothing about change."""


@dataclass(frozen=True, slots=True)
class TapeVolume:
    """Volume in ml; `error_ml` is what ±5 mm on every level at once does to it."""

    ml: float
    error_ml: float
    spacing: tuple[float, ...]  # heights above the lowest level, mm


def percent_of_volume(mm: float, circumference_mm: float) -> float:
    """Percent of limb volume that `mm` of sock fill, at a circumference in mm.

    Raises ValueError for a circumference that is not positive.
    """
    return ((1 + mm / radius(circumference_mm)) ** 2 - 1) * 100


def millimetres_of_sock(percent: float, circumference_mm: float) -> float:
    """The inverse of `percent_of_volume`. Raises ValueError below −100 %."""
    if percent < -100:
        raise ValueError("a limb can't lose more than all of its volume")
    return (math.sqrt(1 + percent / 100) - 1) * radius(circumference_mm)


def radius(circumference_mm: float) -> float:
    """C / 2π. Raises ValueError for a circumference that is not positive."""
    if not circumference_mm > 0:
        raise ValueError("the circumference must be more than 0 mm")
    return circumference_mm / (2 * math.pi)


def frustum(height: float, lower: float, upper: float) -> float:
    """Volume of a truncated cone from its height and two circumferences, in the cube of their unit."""
    return height * (lower * lower + lower * upper + upper * upper) / (12 * math.pi)


def spherical_cap(height: float, circumference: float) -> float:
    """Volume of the rounded end below the lowest level: π h (3 a² + h²) / 6 with a = C / 2π."""
    base = circumference / (2 * math.pi)
    return math.pi * height * (3 * base * base + height * height) / 6


def frustum_volume(levels: Sequence[tuple[float, float]]) -> float:
    """Sum of truncated cones between (height, circumference) levels, in the cube of their unit.

    Levels may come in any order. Raises ValueError for fewer than two.
    """
    if len(levels) < 2:
        raise ValueError("at least two levels are needed")
    ordered = sorted(levels)
    return sum(
        frustum(above[0] - below[0], below[1], above[1]) for below, above in zip(ordered, ordered[1:], strict=False)
    )


def tape_volume(levels: Sequence[tuple[float, float]], tape_error_mm: float = TAPE_ERROR_MM) -> TapeVolume:
    """Volume in ml from (distance from the end, circumference) levels in mm.

    The error moves every circumference the same way, as one person's pull on the tape does.
    """
    ml = frustum_volume(levels) / 1000
    tighter = frustum_volume([(height, max(c - tape_error_mm, 0.0)) for height, c in levels]) / 1000
    looser = frustum_volume([(height, c + tape_error_mm) for height, c in levels]) / 1000
    lowest = min(height for height, _ in levels)
    spacing = tuple(sorted(height - lowest for height, _ in levels))
    return TapeVolume(ml, (looser - tighter) / 2, spacing)


def compare(before: TapeVolume, after: TapeVolume) -> float:
    """Percent change between two tape volumes.

    Raises CannotCompare when the levels are not at the same spacing: the same limb then gives another number.
    """
    same = len(before.spacing) == len(after.spacing) and all(
        abs(one - other) <= 1.0 for one, other in zip(before.spacing, after.spacing, strict=False)
    )
    if not same:
        raise CannotCompare("the two measurements were not taken at the same heights")
    return (after.ml / before.ml - 1) * 100


def swollen_share(minutes: float) -> float:
    """Share, 0 to 1, of the swelling after taking a transtibial socket off that is done after `minutes`."""
    return 1 - math.exp(-max(minutes, 0.0) / DOFFING_TAU_MIN)


def distinguishable(before_ml: float, after_ml: float) -> bool:
    """Whether two tape volumes by different people differ by more than their hands do."""
    return abs(after_ml - before_ml) > BETWEEN_RATERS_ML
