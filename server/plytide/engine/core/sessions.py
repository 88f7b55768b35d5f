"""How much falls over a session: differences of pairs → mean with a 90 % interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, stdev

from scipy.special import stdtrit  # Student's quantile; scipy.stats has it too, and takes a second to load

LEAST_PAIRS = 6  # two weeks of three sessions: judgement


def paired_fall(differences: Sequence[float], least_sd: float = 0.2) -> tuple[float, float] | None:
    """(mean, half width) by Student's t, or None with too few pairs.

    `least_sd` is what a pair can't be known better by: answers move in whole socks, and a wearer who never changes
    says the same each time, which is no proof that nothing moves (judgement).
    """
    n = len(differences)
    if n < LEAST_PAIRS:
        return None
    spread = max(stdev(differences), least_sd)
    return fmean(differences), float(stdtrit(n - 1, 0.95)) * spread / math.sqrt(n)
