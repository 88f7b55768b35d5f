"""From what the bank believes of some limbs to the figures that are told, with 90 % intervals."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import good_fit, outlook, settling
from plytide.engine.core.bank import Bank, Beliefs
from plytide.engine.core.outlook import Courses
from plytide.engine.volume.constants import AHEAD, AIM, OUTLOOK_DAYS, SAME_SHAPE_DAYS, STAYS

Array = NDArray[np.float64]
Numbers = dict[str, Array]


def by_law(s: Beliefs, bank: Bank) -> good_fit.ByLaw:
    members = good_fit.ByLaw(s.weight, s.d, s.r, s.var_d, s.var_r, s.cov_dr, bank.law, bank.tau, s.age)
    return good_fit.by_law(members)


def numbers_of(s: Beliefs, bank: Bank, margin: float, drawn_in: float) -> Numbers:
    """By name: a row for each of the beliefs, of a mean and both ends of 90 % or of one figure."""
    law, tau = bank.law[None, :], bank.tau[None, :]
    out: Numbers = {}

    def put(
        name: str, mean: Array, var: Array, how: Callable[..., tuple[Array, Array, Array]], weight: Array = s.weight
    ) -> None:
        out[name] = np.stack(how(weight, mean, var), axis=1)

    put("change", s.d, s.var_d, outlook.normal_interval)
    put("limb", s.limb_d, s.var_limb_d, outlook.normal_interval)
    put("need", s.need, s.var_need, outlook.normal_interval)
    put("swing", s.s, s.var_s, outlook.normal_interval)
    # What the laws say was lost lately follows from the rate now, as what is to come does: no level of four weeks ago
    # is needed, and no socket stands between.
    lost = -settling.reach(law, tau, s.age[:, None], -28.0)
    put("back28", s.r * lost, s.var_r * lost**2 + bank.level_noise**2 * 28, outlook.mixture_interval)
    rate, unit = s.r, settling.reach(law, tau, s.age[:, None], 28.0)
    noise = bank.level_noise**2
    coming, coming_var = rate * unit, s.var_r * unit**2 + noise * 28
    put("ahead28", coming, coming_var, outlook.mixture_interval)
    out["ahead28"] = out["ahead28"][:, :1] + drawn_in * (out["ahead28"] - out["ahead28"][:, :1])
    centre, spread = outlook.pooled(s.weight, coming, coming_var)
    tails = (out["ahead28"] - centre[:, None]) / spread[:, None]
    believed = by_law(s, bank)
    for days in OUTLOOK_DAYS:
        far = settling.reach(believed.law, believed.tau, s.age[:, None], float(days))
        moves = believed.share, believed.rate * far, believed.var_rate * far**2 + noise * days
        if days <= SAME_SHAPE_DAYS:
            # The mixture has much the same shape over so few days, so its quantiles are scaled.
            centre, spread = outlook.pooled(*moves)
            out[f"ahead{days}"] = centre[:, None] + tails * spread[:, None]
        else:
            put(f"ahead{days}", moves[1], moves[2], outlook.mixture_interval, moves[0])
    best = good_fit.best_cast(good_fit.paths_of(believed), AIM)
    out |= {f"recast {name}": getattr(best, name) for name in good_fit.Best.__slots__}
    courses = Courses(believed.share, believed.rate, np.sqrt(believed.var_rate), believed.law, believed.tau, s.age)
    out["steady for"] = outlook.stays_within(courses, margin, STAYS)
    # Who is steady has no settling day to come: the work is spared.
    rows = np.flatnonzero(s.tail > 0.01)
    some = Courses(
        courses.share[rows], courses.rate[rows], courses.rate_sd[rows] + 1e-7, courses.law, courses.tau, s.age[rows]
    )
    out["settles"] = np.full((len(s.limb), 3), np.nan)
    out["settles"][rows] = np.stack(outlook.settling_day(some, margin, AHEAD), axis=1)
    return out
