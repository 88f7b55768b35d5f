"""The steady claim: the coming change is equivalent to none within the margin, and stays so.

Two one-sided tests at once (Schuirmann 1987): both tails of the coming change beyond +-margin are below
`enter`, which is the same as the (1 - 2 enter) interval lying inside. One look a day for months would sooner
or later pass by luck; so the claim needs `hold` days in a row, and ends when a tail passes `leave`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


def equivalent(above: Array, below: Array, alpha: float = 0.05) -> Flags:
    """Whether each tail is below alpha."""
    return np.asarray(np.maximum(above, below) < alpha)


def steady_days(
    above: Array, below: Array, allowed: Flags, *, enter: float, leave: float, hold: int
) -> tuple[Flags, NDArray[np.int64]]:
    """Days x limbs: steady or not, and the first day of the present run (-1 when not steady).

    A day where `allowed` is False is not steady and starts the count anew.
    """
    tail = np.maximum(above, below)
    days, n = tail.shape
    state = np.zeros((days, n), np.bool_)
    since = np.full((days, n), -1, np.int64)
    now = np.zeros(n, np.bool_)
    count = np.zeros(n, np.int64)
    start = np.full(n, -1, np.int64)
    for day in range(days):
        good = allowed[day] & (tail[day] < enter)
        count = np.where(good, count + 1, 0)
        stays = now & allowed[day] & (tail[day] < leave)
        begins = ~stays & (count >= hold)
        start = np.where(begins, day, np.where(stays, start, -1))
        now = stays | begins
        state[day], since[day] = now, start
    return state, since
