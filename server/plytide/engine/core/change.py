"""Sudden change: how much better the answers since some day are explained by a jump of the needed thickness.

For every start day kept in view and every size of jump, the evidence is summed:
    C = sum of log Z(belief shifted by the jump) - log Z(belief)
the generalised likelihood ratio of Willsky & Jones (1976, IEEE Trans. Autom. Control 21:108-112); its
maximum over start days is Page's cumulative sum (1954, Biometrika 41:100-115). The alarm is on the sum over
start days and sizes of exp C, after Shiryaev and Roberts. The filter takes a jump up by and by; what is
`left` of it to be seen is carried along: it fades with the state, and each answer takes from it what the
filter learnt less for not knowing of the jump.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core.bank import Alarm, D, R, State, Tuning, W
from plytide.engine.core.observation import answer_score

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


class Watch:
    """The running sums of a group of limbs: limbs x (start days x sizes). Changed in place, day by day."""

    def __init__(self, limbs: int, states: int, tuning: Tuning, more: Array | float = 0.0) -> None:
        """`more`: by how much the alarm of each limb is higher than the tuning says."""
        self.tuning, self.more = tuning, more
        self.sizes = len(tuning.jumps)
        self.jump = np.tile(np.array(tuning.jumps), tuning.window)
        self.total = np.full((limbs, len(self.jump)), -np.inf)
        self.left = np.zeros((states, limbs, len(self.jump)))
        self.begun = np.zeros(self.total.shape, np.int64)
        self.wobble = np.zeros(self.total.shape)
        self.days = np.zeros(limbs, np.int64)

    def go_on(self, state: State) -> None:
        """Take up what was kept at the end of the day before this pass's first."""
        self.total, self.left, self.begun, self.wobble, self.days = (
            getattr(state, name).copy() for name in ("total", "left", "begun", "wobble", "days")
        )

    def forget(self, limb: int) -> None:
        """Nothing before now counts: a new socket, a pad, or a change that was told."""
        self.total[limb] = -np.inf

    def predict(self, fade: Array, reach: Array, rho: Array) -> None:
        """A day passes for what is left of a jump, as it does for the state; each of `limbs`."""
        self.left[D] += self.left[R] * reach[:, None]
        self.left[R] *= fade[:, None]
        self.left[W] *= rho[:, None]

    def begin(self, limbs: Ints, day: int, wobble: Array) -> None:
        """Today is a possible first day of a jump of the level; the oldest such day goes out of view.

        `wobble` is the sd of each limb's usual wobble as believed before today, in mm.
        """
        at = (self.days[limbs] % self.tuning.window)[:, None] * self.sizes + np.arange(self.sizes)
        rows = limbs[:, None]
        self.days[limbs] += 1
        self.total[rows, at] = 0.0
        self.left[:, rows, at] = 0.0
        self.left[0, rows, at] = 1.0
        self.begun[rows, at] = day
        self.wobble[rows, at] = wobble[:, None]

    def weigh(
        self, limbs: Ints, direction: Array, gain: Array, centre: Array, spread: Array, answer: tuple[Array, ...]
    ) -> None:
        """One answer each of `limbs`, under the belief N(centre, spread); `direction`, `gain` states x limbs."""
        left = self.left[:, limbs]
        seen = np.einsum("kn,knj->nj", direction, left)
        shifted = np.concatenate([np.zeros((len(limbs), 1)), self.jump * seen], axis=1) + centre[:, None]
        z, g, _ = answer_score(shifted, spread[:, None], *(each[:, None] for each in answer))
        self.total[limbs] += np.log(z[:, 1:] / z[:, :1])
        self.left[:, limbs] = left + gain[:, :, None] * ((g[:, 1:] - g[:, :1]) / self.jump)

    def weigh_measured(self, limbs: Ints, states: tuple[int, ...], gain: Array, off: Array, spread: Array) -> None:
        """The sum of `states` measured, `off` from what was believed, the variance of that being `spread`.

        The same ratio for a Gaussian error; `gain` (states x limbs) is what the filter took up of it.
        """
        left = self.left[:, limbs]
        seen = left[states, :].sum(axis=0)
        shift = self.jump * seen
        self.total[limbs] += shift * (off[:, None] - 0.5 * shift) / spread[:, None]
        self.left[:, limbs] = left - gain[:, :, None] * seen

    def found(self) -> Ints:
        """The limbs whose evidence passes the alarm."""
        best = np.argmax(self.total, axis=1)
        usual = self.wobble[np.arange(len(best)), best]
        return np.flatnonzero(alarm_level(self.total, self.sizes) > bar(usual, self.tuning) + self.more)

    def tell(self, limb: int, day: int) -> tuple[Alarm, Array, float]:
        """The alarm of a limb, the direction in which the filter lags, and the likeliest jump along it.

        The size told is the mean over jumps of the likeliest sign, each by its evidence.
        """
        total = self.total[limb]
        best = int(np.argmax(total))
        chance = np.exp(np.maximum(total - total[best], -60.0))
        share = np.where(self.jump * self.jump[best] > 0, chance, 0.0)
        share /= share.sum()
        size = float(share @ self.jump)
        sd = float(np.sqrt(share @ (self.jump - size) ** 2 + 0.25**2))
        alarm = Alarm(limb, day, int(self.begun[limb, best]), size, sd)
        return alarm, self.left[:, limb, best], float(self.jump[best])


def bar(wobble: Array, tuning: Tuning) -> Array:
    """What the alarm level must pass. A limb that wobbles more has more to be mistaken for a jump in a year, and
    hides it better: the false alarms are spent where they buy most."""
    return np.asarray(tuning.alarm + tuning.alarm_slope * np.log(np.maximum(wobble / tuning.quiet_wobble, 1.0)))


def alarm_level(total: Array, sizes: int) -> Array:
    """log of the sum over start days of the mean over sizes of exp C; limbs x (start days x sizes)."""
    peak = np.maximum(total.max(axis=1), -50.0)
    summed = np.exp(np.maximum(total - peak[:, None], -60.0)).sum(axis=1)
    return np.asarray(peak + np.log(summed / sizes))
