"""The laws by which a limb settles: how the rate of loss fades, and what the next days bring.

All laws are linear in the rate r now (mm of needed thickness a day, positive: the limb gets smaller):
    exponential approach   r(t+h) = r e^(-h/tau)      change over h: r tau (1 - e^(-h/tau))
    loss by log time       r(t+h) = r a/(a+h)         change over h: r a ln(1 + h/a),  a: days since amputation
    even                   r(t+h) = r                 change over h: r h              (growth, slow loss)
    slow                   the same, with a prior close to no trend at all            (a mature limb)
The log law is the one reported for weeks 1-24 by Tantua et al., JRRD 2014;51(7):1119-1126.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Tantua 2014: volume falls by 9.7 % of the first one per unit of ln(weeks since amputation), weeks 1-24.
TANTUA_PER_LN_WEEK = 0.097
MATURE_DAYS = 18 * 30.4  # "mature" limb: Sanders & Fatone 2011

EXPONENTIAL, LOG_TIME, EVEN, SLOW = 0, 1, 2, 3


def fade(law: NDArray[np.int64], tau: Array, age: Array, ahead: Array | float) -> Array:
    """Rate after `ahead` days as a share of the rate now. `age`: days since amputation. Broadcasts."""
    exponential = np.exp(-np.minimum(ahead / tau, 60.0))
    log_time = age / (age + ahead)
    return np.asarray(np.where(law == EXPONENTIAL, exponential, np.where(law == LOG_TIME, log_time, 1.0)))


def reach(law: NDArray[np.int64], tau: Array, age: Array, ahead: Array | float) -> Array:
    """Change over the next `ahead` days for a rate of 1 now. Negative `ahead` looks back."""
    exponential = tau * -np.expm1(-np.clip(ahead / tau, -3.0, 60.0))
    log_time = age * np.log1p(np.maximum(ahead / age, -0.9))
    return np.asarray(np.where(law == EXPONENTIAL, exponential, np.where(law == LOG_TIME, log_time, ahead)))


def until(law: NDArray[np.int64], tau: Array, age: Array, change: Array) -> Array:
    """Days until the change for a rate of 1 now is `change` (0 or more): the inverse of `reach`; inf: never.

    Broadcasts.
    """
    with np.errstate(divide="ignore"):
        exponential = -tau * np.log1p(-np.minimum(change / tau, 1.0))
    log_time = age * np.expm1(np.minimum(change / age, 20.0))
    return np.asarray(np.where(law == EXPONENTIAL, exponential, np.where(law == LOG_TIME, log_time, change)))


def expected_loss(weeks: float, ahead_weeks: float = 4.0) -> float:
    """Share of the limb's volume now that the published mean curve loses over the coming weeks.

    Valid for weeks 1-24; before and after, the nearest end is used for the start.
    """
    start = min(max(weeks, 1.0), 24.0)
    now = 1.0 - TANTUA_PER_LN_WEEK * math.log(start)
    return TANTUA_PER_LN_WEEK * math.log((start + ahead_weeks) / start) / now
