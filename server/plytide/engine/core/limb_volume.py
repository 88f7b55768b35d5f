"""Limb volume from millimetres of sock and from a tape measure.

Truncated cones: V = Σ h (C1² + C1 C2 + C2²) / (12 π) (the frustum formula of limb volumetry). Sock geometry:
a body of mean radius r = C / 2π under t mm of sock has dV/V = (1 + t/r)² − 1, the ends ignored.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

TAPE_ERROR_MM = 5.0  # Geil 2007 (JRRD 44(4):515): digital and hand dimensions differ by about 5 mm
# What two tapes of one leg differ by without any change, as a share of its circumference (reproducibility index, te
# Slaa et al. 2011, Phlebology 26(1):14-19: four observers, 11 volunteers): one observer; several; several, twelve weeks
# apart.
ONE_HAND = 0.033
TWO_HANDS = 0.044
TWELVE_WEEKS = 0.065
TWELVE_WEEKS_DAYS = 84
# The same between raters for the volume of residual limbs of 569 to 3,115 ml: reliability coefficient 256.85 ml
# ("Reliability of three different methods for assessing amputee residuum shape and volume", Prosthet Orthot Int, ten
# users, three raters), which is 13 % of two litres. Heights that each rater finds anew are in it.
BETWEEN_RATERS_SHARE = 0.13
SAME_HEIGHT_MM = 1.0  # levels closer than this are one level

DOFFING_TAU_MIN = 8 / math.log(20)  # derived: 95 % of the swelling within 8 min (Zachariah 2004, JRRD 41(5):683)


class CannotCompare(ValueError):
    """limb_volume: two measurements taken at different heights say nothing about change."""


@dataclass(frozen=True, slots=True)
class TapeVolume:
    """Volume in ml; `error_ml` is what ±5 mm on every level at once does to it."""

    ml: float
    error_ml: float
    spacing: tuple[float, ...]  # heights above the lowest level, mm


def frustum(height: float, lower: float, upper: float) -> float:
    """Volume of a truncated cone from its height and two circumferences, in the cube of their unit."""
    return height * (lower * lower + lower * upper + upper * upper) / (12 * math.pi)


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
        abs(one - other) <= SAME_HEIGHT_MM for one, other in zip(before.spacing, after.spacing, strict=False)
    )
    if not same:
        raise CannotCompare("the two measurements were not taken at the same heights")
    return (after.ml / before.ml - 1) * 100


def swollen_share(minutes: float) -> float:
    """Share, 0 to 1, of the swelling after taking a transtibial socket off that is done after `minutes`."""
    return 1 - math.exp(-max(minutes, 0.0) / DOFFING_TAU_MIN)


def tape_limit(one_hand: bool) -> float:
    """What two tape measurements at the same heights may differ by without a change, as a share of circumference.

    Twice as much, near enough, as a share of the volume.
    """
    return ONE_HAND if one_hand else TWO_HANDS


def tape_limit_over(one_hand: bool, days: int) -> float:
    """As `tape_limit`, for measurements `days` apart: from twelve weeks on what was published for that, whoever
    measured.
    """
    return TWELVE_WEEKS if days >= TWELVE_WEEKS_DAYS else tape_limit(one_hand)


def circumference_at(levels: Sequence[tuple[float, float]], height: float) -> float | None:
    """What was measured at this height, within a millimetre; None where nothing was."""
    near = min(levels, key=lambda level: abs(level[0] - height), default=None)
    return near[1] if near is not None and abs(near[0] - height) <= SAME_HEIGHT_MM else None
