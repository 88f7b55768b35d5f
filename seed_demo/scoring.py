"""Scores of forecasts with intervals. Pure; arrays in, numbers out.

Gneiting & Raftery 2007, JASA 102:359-378: interval score eq. 43, CRPS of the normal eq. 5 (their eq. 20-21).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike


def coverage(low: ArrayLike, high: ArrayLike, truth: ArrayLike) -> float:
    """Share of truths inside their interval, ends included."""
    low, high, truth = (np.asarray(x, float) for x in (low, high, truth))
    return float(np.mean((low <= truth) & (truth <= high)))


def interval_score(low: ArrayLike, high: ArrayLike, truth: ArrayLike, alpha: float = 0.1) -> float:
    """Mean of (u - l) + (2/alpha) (l - y)+ + (2/alpha) (y - u)+; smaller is better."""
    low, high, truth = (np.asarray(x, float) for x in (low, high, truth))
    miss = np.maximum(low - truth, 0.0) + np.maximum(truth - high, 0.0)
    return float(np.mean(high - low + 2.0 / alpha * miss))


def crps_normal(mean: ArrayLike, sd: ArrayLike, truth: ArrayLike) -> float:
    """Mean continuous ranked probability score of normal forecasts; smaller is better."""
    mean, sd, truth = (np.asarray(x, float) for x in (mean, sd, truth))
    z = (truth - mean) / sd
    cdf = 0.5 * (1.0 + np.vectorize(math.erf)(z / math.sqrt(2.0)))
    density = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return float(np.mean(sd * (z * (2.0 * cdf - 1.0) + 2.0 * density - 1.0 / math.sqrt(math.pi))))


def pinball(quantile: ArrayLike, truth: ArrayLike, tau: float) -> float:
    """Mean quantile loss."""
    quantile, truth = np.asarray(quantile, float), np.asarray(truth, float)
    return float(np.mean(np.where(truth >= quantile, (truth - quantile) * tau, (quantile - truth) * (1 - tau))))
