"""Sudden change: Page's cumulative sum on the evidence of each answer for a jump of the needed thickness.

    C_t = max(0, C_(t-1) + l_t),   l_t = log Z_t(belief shifted by the jump) - log Z_t(belief)
(Page 1954; on Gaussian innovations this is the tabular CUSUM with k = half the shift). The filter takes
up a jump by and by, so the shift still to be seen, `left`, is carried along (Willsky & Jones 1976):
    left <- F (I - K H) left,  started at 1 in the level when the sum leaves zero.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def page_step(total: Array, evidence: Array) -> Array:
    """The next value of Page's sum."""
    return np.maximum(0.0, total + evidence)


def tabular_cusum(x: Array, target: float, k: float) -> tuple[Array, Array]:
    """Upper and lower sums C+ and C- of a series (Montgomery, ch. 9), in the units of x."""
    upper, lower = np.zeros(len(x)), np.zeros(len(x))
    hi = lo = np.zeros(())
    for i, value in enumerate(x):
        hi = page_step(hi, np.asarray(value - target - k))
        lo = page_step(lo, np.asarray(target - value - k))
        upper[i], lower[i] = hi, lo
    return upper, lower
