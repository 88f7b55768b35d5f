"""What the members of the bank say at the end of a day: together the figures of the track, and each its belief."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import observation
from plytide.engine.core.bank import B, Beliefs, D, R, S

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class DayEnd:
    """State and covariance of all limbs once a day's answers were heard; `a` and `p` are the filter's own arrays."""

    day: int
    weight: Array
    a: Array
    p: Array
    earlier: int | None  # the state that holds the change before this socket, where there is one

    def tell(self, out: dict[str, Array], ahead28: Array, margin: float) -> None:
        """Write the day's figures into the track."""
        day, weight, a, p = self.day, self.weight, self.a, self.p
        coming = a[R] * ahead28
        spread = np.sqrt(p[R, R]) * ahead28 + 1e-6
        names = ("change", "need", "coming") if self.earlier is None else ("change", "need", "coming", "limb")
        means = np.empty((len(names), *coming.shape))
        variances = np.empty_like(means)
        means[0], means[1], means[2] = a[D], a[D] + a[B], coming
        variances[0], variances[1], variances[2] = p[D, D], p[D, D] + 2.0 * p[D, B] + p[B, B], spread * spread
        if self.earlier is not None:
            means[3], variances[3] = since_day_0(a, p, self.earlier, slice(None))
        centre = np.einsum("nm,knm->kn", weight, means)
        square = np.einsum("nm,knm->kn", weight, variances + (means - centre[:, :, None]) ** 2)
        for name, mean, sd in zip(names, centre, np.sqrt(np.maximum(square, 0.0)), strict=True):
            out[name][day], out[f"{name}_sd"][day] = mean, sd
        if self.earlier is None:
            out["limb"][day], out["limb_sd"][day] = out["change"][day], out["change_sd"][day]
        tails = observation.normal_cdf(np.stack([coming - margin, -margin - coming]) / spread)
        out["above"][day], out["below"][day] = np.einsum("nm,knm->kn", weight, tails)

    def beliefs(self, who: Ints, age: Array, out: dict[str, Array]) -> Beliefs:
        """Of the limbs `who`; `out` has the day's figures already."""
        day, a, p = self.day, self.a, self.p
        limb_d, var_limb_d = since_day_0(a, p, self.earlier, who)
        return Beliefs(
            limb=who,
            day=np.full(len(who), day),
            weight=self.weight[who],
            d=a[D, who],
            limb_d=limb_d,
            r=a[R, who],
            s=a[S, who],
            need=a[D, who] + a[B, who],
            var_d=p[D, D, who],
            var_limb_d=var_limb_d,
            var_r=p[R, R, who],
            cov_dr=p[D, R, who],
            var_s=p[S, S, who],
            var_need=p[D, D, who] + 2.0 * p[D, B, who] + p[B, B, who],
            age=age[who] + day,
            tail=np.maximum(out["above"][day, who], out["below"][day, who]),
        )


def since_day_0(a: Array, p: Array, earlier: int | None, who: Ints | slice) -> tuple[Array, Array]:
    """Mean and variance of the change of the limbs `who` on their one scale."""
    if earlier is None:
        return a[D, who], p[D, D, who]
    return a[D, who] + a[earlier, who], p[D, D, who] + 2.0 * p[D, earlier, who] + p[earlier, earlier, who]


def joined(held: list[Beliefs]) -> Beliefs:
    return Beliefs(*(np.concatenate([getattr(each, name) for each in held]) for name in Beliefs.__slots__))
