"""What one answer tells about the needed thickness: an interval with soft edges, and its Bayes update.

Need and thickness in mm. The need lies within half a step of the wearer's next thinner and next thicker
choice (interval censoring); the fit cue narrows it; hesitation and copied answers widen it.

Update: for a Gaussian belief N(m, v) of the need and the likelihood
    l(n) = e + (1 - e) [F((n - a)/s) - F((n - b)/s)],   F the standard normal distribution function,
the moments of belief times likelihood are exact (assumed-density filtering; Minka 2001, "Expectation
propagation for approximate Bayesian inference", section 3.2): with Z the normaliser,
    m' = m + v g,  v' = v - v^2 h,  g = dlogZ/dm,  h = -d^2 logZ/dm^2.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

OPEN = 4.0  # mm: as far as an open end of an interval reaches
# Judgement, set on simulated limbs:
STAY = 0.15  # a wearer keeps the stack this share of a step longer than the nearest choice would have it
BEYOND = 0.1  # mm: what "loose" or "tight" adds beyond the step
UNANSWERED = 3  # "loose" so many times running with the same stack: no thicker one is to be had
SOFT = 0.2  # mm: how sharply a wearer feels an edge
LAPSE, LAPSE_ECHO, LAPSE_PREFILLED = 0.02, 0.15, 0.6  # share of answers that tell nothing


def normal_cdf(x: Array) -> Array:
    """Standard normal distribution function, absolute error below 7.5e-8."""
    return cdf_and_kernel(x)[0]


def cdf_and_kernel(x: Array) -> tuple[Array, Array]:
    """F(x) and exp(-x^2/2) from one exponential: Abramowitz & Stegun 26.2.17."""
    ax = np.abs(x)
    e = np.exp(-0.5 * ax * ax)
    t = 1.0 / (1.0 + 0.2316419 * ax)
    tail = t * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
    tail *= 0.3989422804014327 * e
    return np.where(x >= 0, 1.0 - tail, tail), e


def answer_score(
    mean: Array, var: Array, low: Array, high: Array, soft: Array, lapse: Array
) -> tuple[Array, Array, Array]:
    """Z, g and h of an answer under the belief N(mean, var); arrays broadcast.

    `low` and `high` bound the need, `soft` is the standard deviation of their edges, `lapse` the share of
    answers that tell nothing. h is kept so that v' stays within (0.001 v, 2 v).
    """
    scale = 1.0 / np.sqrt(var + soft * soft)
    alpha, beta = (mean - low) * scale, (mean - high) * scale
    ca, ea = cdf_and_kernel(alpha)
    cb, eb = cdf_and_kernel(beta)
    z = (ca - cb) * (1.0 - lapse) + lapse + 1e-12
    k = (0.3989422804014327 * (1.0 - lapse)) * scale / z
    g = (ea - eb) * k
    h = (alpha * ea - beta * eb) * (k * scale) + g * g
    return z, g, np.clip(h, -1.0 / var, 0.999 / var)


def answer_interval(
    *,
    fill: Array,
    up: Array,
    down: Array,
    fit: NDArray[np.int64],
    moved: NDArray[np.int64],
    echo: NDArray[np.bool_],
    prefilled: NDArray[np.bool_],
    at_floor: NDArray[np.bool_],
) -> tuple[Array, Array, Array, Array]:
    """Low, high, soft and lapse of each answer of one wearer, in time order; each uses earlier ones only.

    How much "good" tells is learnt per wearer: among u = need - worn spread evenly over the interval, a
    share p of "good" answers means that |u| below p times its half width is called good. A wearer who
    always says "good" is thereby believed to tell nothing by it.
    """
    n = len(fill)
    half_up, half_down = up / 2, down / 2
    told = fit != 2
    good_before = np.concatenate([[0.0], np.cumsum(fit == 0)[:-1]]) if n else np.zeros(0)
    told_before = np.concatenate([[0.0], np.cumsum(told)[:-1]]) if n else np.zeros(0)
    share = (good_before + 3.0) / (told_before + 5.0)
    reach_up = half_up + STAY * up * (moved == 0)
    reach_down = half_down + STAY * down * (moved == 0)
    good_up, good_down = share * reach_up, share * reach_down
    low = np.where(fit == 1, good_up, np.where(fit == 0, -good_down, -reach_down))
    high = np.where(fit == -1, -good_down, np.where(fit == 0, good_up, reach_up))
    unanswered = _run_length(fit, moved) >= UNANSWERED
    high = np.where(fit == 1, np.where(unanswered, OPEN, reach_up + BEYOND), high)
    low = np.where(fit == -1, np.where(unanswered, -OPEN, -reach_down - BEYOND), low)
    low = np.where(at_floor & ((fit != 1) & (fit != 0)), -OPEN, low)
    soft = np.full(n, SOFT)
    lapse = np.where(echo, LAPSE_ECHO, LAPSE)
    lapse = np.where(at_floor & (fit == 0), np.maximum(lapse, 0.15), lapse)
    lapse = np.where(prefilled, LAPSE_PREFILLED, lapse)
    return fill + low, fill + high, soft, lapse


def _run_length(fit: NDArray[np.int64], moved: NDArray[np.int64]) -> NDArray[np.int64]:
    """How many times running the same cue was given with the same stack, this one included."""
    n = len(fit)
    breaks = np.ones(n, np.bool_)
    if n:
        breaks[1:] = (fit[1:] != fit[:-1]) | (moved[1:] != 0)
    at = np.arange(n)
    return at - np.maximum.accumulate(np.where(breaks, at, 0)) + 1
