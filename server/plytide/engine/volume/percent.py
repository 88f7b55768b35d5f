"""Millimetres of needed thickness to percent of limb volume, with what is uncertain about either."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from plytide.model import Estimate, LimbHistory

Array = NDArray[np.float64]


def radius_mm(history: LimbHistory) -> float:
    """Of the reference circumference; 300 mm where none was entered."""
    return (history.limb.reference_circumference_mm or 300.0) / (2 * math.pi)


def pct(mm: float, radius: float) -> float:
    """Percent of limb volume for a change of needed thickness: (1 - t/r)^2 - 1."""
    return ((1.0 - min(mm / radius, 0.95)) ** 2 - 1.0) * 100.0


def pct_estimate(mm: Array, radius: float, scale_sd: float) -> Estimate:
    """Through the geometry, with the thickness table's own uncertainty as a scale on every millimetre."""
    value = float(mm[0])
    extra = 1.645 * scale_sd * abs(value)
    low = value - math.hypot(value - float(mm[1]), extra)
    high = value + math.hypot(float(mm[2]) - value, extra)
    return Estimate(pct(value, radius), pct(high, radius), pct(low, radius))


def negated(estimate: Estimate) -> Estimate:
    return Estimate(-estimate.value, -estimate.high, -estimate.low)


def mm_estimate(mm: Array) -> Estimate:
    return Estimate(float(mm[0]), float(mm[1]), float(mm[2]))


def girth_change(now: float, mm_less: float) -> float:
    """Percent of volume by which a limb changed whose circumference is `now` and whose radius lost so many mm."""
    return 100.0 * ((now / (now + 2 * math.pi * mm_less)) ** 2 - 1.0)


def share_pct(share: float) -> float:
    """A share of the circumference as percent of the volume."""
    return 100.0 * (1.0 - (1.0 - share) ** 2)
