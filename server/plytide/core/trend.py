"""Level, rate and their uncertainty for many limbs at once: a bank of Kalman filters on censored answers.

State of a limb, in mm of needed thickness (positive: the limb is smaller):
    d  change since the socket was fitted      d' = d + reach(1) r + N(0, level_noise^2)
    r  its rate, fading by a settling law      r' = fade(1) r + N(0, rate_noise^2)
    b  need on the day of fitting              constant
    s  morning-to-evening swing                constant
    w  day-to-day wobble                       w' = rho w + N(0, sd^2 (1 - rho^2))
    c  weekly cycle, three harmonics           constant; only where it is asked for
    need = d + b + w + s (part of day - 1/2) + weekly cycle
The bank holds every combination of law, wobble size and autocorrelation. Each member is a Kalman filter
(Kalman 1960; notation of Durbin & Koopman 2012, ch. 4: state mean a, variance P) with the update of
`observation.answer_score`, and its weight is its likelihood (Bayesian model averaging). Arrays are
states x limbs x members, so that a day over all limbs is a few dozen whole-array operations.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from plytide.core import observation, settling
from plytide.core.bank import TAPE, Alarm, Answers, B, Bank, Beliefs, D, Limbs, R, S, Starts, Track, Tuning, W
from plytide.core.change import Watch

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

HARMONICS = 3
PART = (-0.5, 0.0, 0.5)
JUMP_CHANCE = 0.02
KEPT_ROWS = 1500


def run_bank(
    bank: Bank,
    limbs: Limbs,
    starts: Starts,
    answers: Answers,
    days: int,
    tuning: Tuning,
    wanted: Mapping[int, Ints] | None = None,
    keep: Callable[[Beliefs], None] | None = None,
) -> Track:
    """Filter all limbs forward for `days` days. `keep` is given the beliefs of the limbs `wanted` on a day.

    A day's result uses that day and earlier ones only, so one pass serves every date of a replay.
    """
    n, wanted = len(limbs.age), wanted or {}
    a, p, log_weight = _begin(bank, limbs, tuning)
    pace = _Pace(bank, limbs)
    watch = Watch(n, len(a), tuning)
    out = {name: np.zeros((days, n)) for name in Track.__slots__ if name != "alarms"}
    alarms: list[Alarm] = []
    held: list[Beliefs] = []
    started, padded, answered = (_by_day(x, days) for x in (starts.day, starts.pad_day, answers.day))

    for day in range(days):
        if day:
            weight = _weights(log_weight)
            pace.to(day - 1)
            predict(a, p, pace.fade, pace.reach, bank)
            watch.predict(_mean(weight, pace.fade), _mean(weight, pace.reach), weight @ bank.rho)
        for row in started[day]:
            limb = int(starts.limb[row])
            _fit_socket(a, p, limb, float(starts.mean[row]), float(starts.sd[row]))
            watch.forget(limb)
        for row in padded[day]:
            p[B, B, starts.pad_limb[row]] += starts.pad_sd[row] ** 2
            watch.forget(int(starts.pad_limb[row]))
        rows = answered[day]
        spoke = np.unique(answers.limb[rows[answers.slot[rows] != TAPE]])
        if len(spoke):
            watch.begin(spoke, day, _weights(log_weight[spoke]) @ bank.wobble)
        for slot in range(4) if len(rows) else ():
            mine = rows[answers.slot[rows] == slot]
            if not len(mine):
                continue
            at = answers.limb[mine]
            answer = tuple(x[mine] for x in (answers.low, answers.high, answers.soft, answers.lapse))
            if slot == TAPE:
                measure(a, p, log_weight, at, answer[0], answer[2])
                continue
            direction = _direction(len(a), slot, day + limbs.weekday[at])
            gain, centre, spread = hear(a, p, log_weight, at, direction, answer)
            watch.weigh(at, direction, gain, centre, spread, answer)
        for limb in map(int, watch.found()) if len(spoke) else ():
            if watch.days[limb] >= tuning.least_days:
                alarm, lag, jump = watch.tell(limb, day)
                alarms.append(alarm)
                # The level is let move along what the filter has not yet taken up.
                a[:, limb] += jump * lag[:, None]
                p[:, :, limb] += tuning.jump_sd**2 * (lag[:, None] * lag[None, :])[:, :, None]
            watch.forget(limb)
        weight = _weights(log_weight)
        pace.to(day)
        _summarise(out, day, weight, a, p, pace.ahead28, tuning.margin)
        if keep is not None and day in wanted:
            held.append(_beliefs(wanted[day], day, weight, a, p, limbs.age, out))
            if sum(len(each.limb) for each in held) >= KEPT_ROWS:
                keep(_joined(held))
                held = []
    if keep is not None and held:
        keep(_joined(held))
    return Track(alarms=tuple(alarms), **out)


def predict(a: Array, p: Array, fade: Array, reach: Array, bank: Bank) -> None:
    """a' = T a, P' = T P T' + Q in place, for the transition of the module's head."""
    a[D] += reach * a[R]
    a[R] *= fade
    a[W] *= bank.rho
    p[D] += reach * p[R]
    p[:, D] += reach * p[:, R]
    p[R] *= fade
    p[:, R] *= fade
    p[W] *= bank.rho
    p[:, W] *= bank.rho
    p[D, D] += bank.level_noise**2
    p[R, R] += bank.rate_noise**2
    p[W, W] += bank.wobble**2 * (1.0 - bank.rho**2)


def hear(
    a: Array, p: Array, log_weight: Array, at: Ints, direction: Array, answer: tuple[Array, ...]
) -> tuple[Array, Array, Array]:
    """One answer each of the limbs `at`, in place. `direction` is Z of the observation, states x limbs.

        M = P Z',  F = Z P Z',  a' = a + M g,  P' = P - M M' h,  log weight' = log weight + log(likelihood)
    Returns the bank's mean M (states x limbs) and the mean and variance of the need before the answer.
    """
    whole = len(at) == len(log_weight) and bool(np.all(at == np.arange(len(at))))
    pick: slice | Ints = slice(None) if whole else at
    mean, var = a[:, pick], p[:, :, pick]
    terms = _terms(direction)
    m, centre = _along(terms, var), _along(terms, mean)
    f = np.maximum(_along(terms, m), 1e-9)
    z, g, h = observation.answer_score(centre, f, *(x[:, None] for x in answer))
    before = _weights(log_weight[pick])
    # A jump may come any day: no single answer may cost a member more than its share of that chance.
    log_weight[pick] += np.log(z + JUMP_CHANCE)
    a[:, pick] = mean + m * g
    p[:, :, pick] = var - (m * h)[:, None] * m[None, :]
    middle = _mean(before, centre)
    spread = _mean(before, f + centre * centre) - middle**2
    return np.einsum("nm,knm->kn", before, m), middle, np.maximum(spread, 1e-9)


def measure(a: Array, p: Array, log_weight: Array, at: Ints, value: Array, sd: Array) -> None:
    """A tape measurement of d with Gaussian error, in place: the ordinary Kalman update."""
    m = p[:, D][:, at]
    f = p[D, D][at] + (sd**2)[:, None]
    v = value[:, None] - a[D, at]
    log_weight[at] -= 0.5 * (np.log(f) + v * v / f)
    p[:, :, at] -= m[:, None] * (m / f)[None, :]
    a[:, at] += m * (v / f)


def _terms(direction: Array) -> list[tuple[int, Array | None]]:
    """The entries of Z that are not 0 for all limbs; None for one that is 1 for all."""
    used = np.flatnonzero(direction.any(axis=1)).tolist()
    ones = (direction == 1.0).all(axis=1).tolist()
    return [(k, None if ones[k] else direction[k][:, None]) for k in used]


def _along(terms: list[tuple[int, Array | None]], x: Array) -> Array:
    """Z x over the first axis of x."""
    total: Array | None = None
    for k, factor in terms:
        part = x[k] if factor is None else factor * x[k]
        total = part + 0.0 if total is None else total + part
    assert total is not None, "an observation of nothing"
    return total


def _direction(states: int, slot: int, weekday: Ints) -> Array:
    h = np.zeros((states, len(weekday)))
    h[[D, B, W]] = 1.0
    h[S] = PART[slot]
    angle = 2.0 * np.pi * (weekday % 7) / 7.0
    for k in range((states - 5) // 2):
        h[5 + 2 * k] = np.cos((k + 1) * angle)
        h[6 + 2 * k] = np.sin((k + 1) * angle)
    return h


def _begin(bank: Bank, limbs: Limbs, tuning: Tuning) -> tuple[Array, Array, Array]:
    """Prior mean (states x limbs x members), variance and log weight."""
    n, m = len(limbs.age), bank.size
    states = 5 + (2 * HARMONICS if np.any(limbs.weekly > 0) else 0)
    slow, even = bank.law == settling.SLOW, bank.law == settling.EVEN
    log_weight = np.zeros((n, m))
    shares = (limbs.slow, limbs.even, 1.0 - limbs.slow - limbs.even)
    for which, share in zip((slow, even, ~(slow | even)), shares, strict=True):
        if which.any():
            within = bank.prior[which] / bank.prior[which].sum()
            log_weight[:, which] = np.log(np.maximum(share[:, None] * within, 1e-12))
    per = 1.0 / settling.reach(bank.law[None, :], bank.tau[None, :], limbs.age[:, None], 28.0)
    a, p = np.zeros((states, n, m)), np.zeros((states, states, n, m))
    a[R] = np.where(slow, 0.0, limbs.coming[:, None]) * per
    p[R, R] = (np.where(slow, tuning.slow_sd, limbs.coming_sd[:, None]) * per) ** 2
    p[S, S] = tuning.swing_sd**2
    p[W, W] = bank.wobble**2
    for k in range(5, states):
        p[k, k] = (limbs.weekly**2)[:, None] / HARMONICS
    return a, p, log_weight


def _fit_socket(a: Array, p: Array, limb: int, need: float, sd: float) -> None:
    """A socket fitted: the change counts from here, and the need is what was worn at the fitting."""
    for k in (D, B):
        p[k, :, limb] = p[:, k, limb] = 0.0
    a[D, limb], a[B, limb], p[B, B, limb] = 0.0, need, sd * sd


class _Pace:
    """Fade and reach of a day, and reach of 28 days, for each limb and member; only the log law's move."""

    def __init__(self, bank: Bank, limbs: Limbs) -> None:
        self.age = limbs.age
        law, tau, age = bank.law[None, :], bank.tau[None, :], limbs.age[:, None]
        self.log = np.flatnonzero(bank.law == settling.LOG_TIME)
        self.fade = settling.fade(law, tau, age, 1.0)
        self.reach = settling.reach(law, tau, age, 1.0)
        self.ahead28 = settling.reach(law, tau, age, 28.0)

    def to(self, day: int) -> None:
        age = self.age + day
        self.fade[:, self.log] = (age / (age + 1.0))[:, None]
        self.reach[:, self.log] = (age * np.log1p(1.0 / age))[:, None]
        self.ahead28[:, self.log] = (age * np.log1p(28.0 / age))[:, None]


def _by_day(day: Ints, days: int) -> list[Ints]:
    order = np.argsort(day, kind="stable")
    edges = np.searchsorted(day[order], np.arange(days + 1))
    return [order[edges[d] : edges[d + 1]] for d in range(days)]


def _weights(log_weight: Array) -> Array:
    """The weights; the logs are shifted in place so that they stay small."""
    log_weight -= log_weight.max(axis=1, keepdims=True)
    np.maximum(log_weight, -40.0, out=log_weight)
    w = np.exp(log_weight)
    return np.asarray(w / w.sum(axis=1, keepdims=True))


def _mean(weight: Array, values: Array) -> Array:
    return np.asarray(np.einsum("nm,nm->n", weight, values))


def _summarise(
    out: dict[str, Array], day: int, weight: Array, a: Array, p: Array, ahead28: Array, margin: float
) -> None:
    coming = a[R] * ahead28
    spread = np.sqrt(p[R, R]) * ahead28 + 1e-6
    means = np.stack([a[D], a[D] + a[B], coming])
    variances = np.stack([p[D, D], p[D, D] + 2.0 * p[D, B] + p[B, B], spread * spread])
    centre = np.einsum("nm,knm->kn", weight, means)
    square = np.einsum("nm,knm->kn", weight, variances + (means - centre[:, :, None]) ** 2)
    out["change"][day], out["need"][day], out["coming"][day] = centre
    out["change_sd"][day], out["need_sd"][day], out["coming_sd"][day] = np.sqrt(np.maximum(square, 0.0))
    tails = observation.normal_cdf(np.stack([coming - margin, -margin - coming]) / spread)
    out["above"][day], out["below"][day] = np.einsum("nm,knm->kn", weight, tails)


def _beliefs(who: Ints, day: int, weight: Array, a: Array, p: Array, age: Array, out: dict[str, Array]) -> Beliefs:
    return Beliefs(
        limb=who,
        day=np.full(len(who), day),
        weight=weight[who],
        d=a[D, who],
        r=a[R, who],
        s=a[S, who],
        need=a[D, who] + a[B, who],
        var_d=p[D, D, who],
        var_r=p[R, R, who],
        var_s=p[S, S, who],
        var_need=p[D, D, who] + 2.0 * p[D, B, who] + p[B, B, who],
        age=age[who] + day,
        tail=np.maximum(out["above"][day, who], out["below"][day, who]),
    )


def _joined(held: list[Beliefs]) -> Beliefs:
    return Beliefs(*(np.concatenate([getattr(each, name) for each in held]) for name in Beliefs.__slots__))
