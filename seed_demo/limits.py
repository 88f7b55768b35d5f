"""How many sudden changes anybody could find: an observer who knows more than the engine ever can.

The observer hears the true need of each answered day give or take `noise` mm and knows the limb's own wobble
(size and autocorrelation, taken from the whole truth) and the shape of its trend. What it may not know is the
level, or level and rate. It is a Kalman filter on (level, rate, wobble) with the likelihood ratio of a jump
on any of the last 14 answered days (Willsky & Jones 1976; summed as by Shiryaev and Roberts). No engine code.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from seed_demo.cohort import Simulated

Array = NDArray[np.float64]

SIZES = np.array([0.5, -0.5, 1.0, -1.0])
STARTS = 14
BARS = (2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 10.0)
QUIET_DAYS = 14

Alarms = list[tuple[int, str]]


def best_alarms(person: Simulated, noise: float, level_sd: float, rate_sd: float, seed: int) -> dict[float, Alarms]:
    """Bar → (day, kind) of each alarm. `level_sd` in mm, `rate_sd` in mm a day: how unknown they are at first."""
    sd, rho, need = _known(person)
    start = person.history.sockets[0].fitted_on
    days = sorted({d for c in person.history.checkins if (d := (c.date - start).days) <= person.days})
    heard = need[days] + noise * np.random.default_rng(seed).standard_normal(len(days))
    mean, var = np.zeros(3), np.diag([level_sd**2, rate_sd**2, sd * sd])
    seen_by = np.array([1.0, 0.0, 1.0])
    starts: list[tuple[Array, Array]] = []  # what the filter took up of a jump begun then, evidence by size
    alarms: dict[float, Alarms] = {bar: [] for bar in BARS}
    above = dict.fromkeys(BARS, -QUIET_DAYS - 1)
    for k, day in enumerate(days):
        gap = day - days[k - 1] if k else 0
        step = np.array([[1.0, gap, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, rho**gap]])
        mean, var = step @ mean, step @ var @ step.T
        var[2, 2] += sd * sd * (1 - rho ** (2 * gap))
        spread = seen_by @ var @ seen_by + noise * noise + 1e-6
        gain = var @ seen_by / spread
        error = heard[k] - seen_by @ mean
        now = []
        for taken, evidence in [*starts[1 - STARTS :], (np.zeros(3), np.zeros(len(SIZES)))]:
            taken = step @ taken
            left = 1.0 - seen_by @ taken
            evidence = evidence + (SIZES * left * error - 0.5 * (SIZES * left) ** 2) / spread
            now.append((taken + gain * left, evidence))
        starts = now
        mean, var = mean + gain * error, var - np.outer(gain, gain) * spread
        all_evidence = np.array([evidence for _, evidence in starts])
        reached = float(np.log(np.exp(np.minimum(all_evidence, 300.0)).mean(axis=1).sum()))
        size = SIZES[np.unravel_index(int(all_evidence.argmax()), all_evidence.shape)[1]]
        for bar in BARS:
            if reached > bar:
                if day - above[bar] > QUIET_DAYS:
                    alarms[bar].append((day, "volume-loss" if size > 0 else "volume-gain"))
                above[bar] = day
    return alarms


def _known(person: Simulated) -> tuple[float, float, Array]:
    """The wobble's sd and autocorrelation, and the need with the trend taken out and the step left in."""
    truth = person.truth
    wobble = person.needs[:, 1] - truth.level_mm[: len(person.needs)]
    weekday = np.arange(len(wobble)) % 7
    if truth.trend == "dialysis":
        wobble = wobble - np.array([wobble[weekday == k].mean() for k in range(7)])[weekday]
    wobble = wobble - wobble.mean()
    rho = float(np.clip(np.corrcoef(wobble[1:], wobble[:-1])[0, 1], 0.05, 0.9))
    need = wobble[: person.days + 1].copy()
    if truth.step_day is not None:
        need[truth.step_day :] += truth.step_mm
    return float(wobble.std()), rho, need


def share_found(
    people: Sequence[Simulated],
    explained: Callable[[Simulated, int, str], bool],
    within_days: int,
    at_false_alarms: float,
    *,
    noise: float,
    level_sd: float,
    rate_sd: float,
) -> float:
    """Percent of the steps found within so many days at so many false alarms a patient-year, along the bars."""
    years = sum(p.days + 1 for p in people) / 365.25
    false, found, steps = dict.fromkeys(BARS, 0), dict.fromkeys(BARS, 0), 0
    for k, person in enumerate(people):
        at = person.truth.step_day
        steps += at is not None
        for bar, alarms in best_alarms(person, noise, level_sd, rate_sd, seed=k).items():
            false[bar] += sum(not explained(person, *alarm) for alarm in alarms)
            if at is not None:
                found[bar] += any(explained(person, *alarm) and alarm[0] <= at + within_days for alarm in alarms)
    rate = np.array([np.log(max(false[bar], 0.5) / years) for bar in reversed(BARS)])
    share = np.array([100.0 * found[bar] / max(steps, 1) for bar in reversed(BARS)])
    return float(np.interp(np.log(at_false_alarms), rate, share))
