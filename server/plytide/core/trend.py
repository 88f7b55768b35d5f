"""Level, rate and their uncertainty for many limbs at once: a bank of Kalman filters on censored answers.

State of a limb, in mm of needed thickness (positive: the limb is smaller):
    d  change since the socket was fitted      d' = d + reach(1) r + N(0, q_d)
    r  its rate, fading by a settling law      r' = fade(1) r + N(0, q_r)
    b  need on the day of fitting              constant
    s  morning-to-evening swing                constant
    w  day-to-day wobble                       w' = rho w + N(0, sd^2 (1 - rho^2))
    c  weekly cycle, three harmonics           constant; only where it is asked for
    need = d + b + w + s (part of day - 1/2) + weekly cycle
The bank holds every combination of law, wobble size and autocorrelation; each member is a Kalman filter
(Kalman 1960; Durbin & Koopman 2012, ch. 4) whose update is that of `observation.answer_score`, and its
weight is its likelihood (Bayesian model averaging). Arrays are limbs x members, one array per entry of the
state, so that a step over all limbs is a few dozen whole-array operations.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plytide.core import observation, settling

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

D, R, B, S, W = range(5)
HARMONICS = 6

TAPE = 3  # the slot of a tape measurement; 0-2 are the parts of the day
PART = (-0.5, 0.0, 0.5)
JUMP_CHANCE = 0.03


@dataclass(frozen=True, slots=True)
class Bank:
    """Members of the bank, `m` of them: law, tau (days), wobble sd (mm), autocorrelation a day, weight."""

    law: Ints
    tau: Array
    wobble: Array
    rho: Array
    prior: Array
    level_noise: float = 0.004  # mm per sqrt(day)
    rate_noise: float = 0.0001  # mm/day per sqrt(day)

    @property
    def size(self) -> int:
        return len(self.tau)


def make_bank(
    laws: tuple[tuple[int, float, float], ...] = (
        (settling.SLOW, 1.0, 1.0),
        (settling.EVEN, 1.0, 1.0),
        (settling.LOG_TIME, 1.0, 0.45),
        (settling.EXPONENTIAL, 12.0, 0.12),
        (settling.EXPONENTIAL, 22.0, 0.16),
        (settling.EXPONENTIAL, 40.0, 0.16),
        (settling.EXPONENTIAL, 75.0, 0.11),
    ),
    wobbles: tuple[float, ...] = (0.1, 0.2, 0.4, 0.7),
    rhos: tuple[float, ...] = (0.4, 0.8),
) -> Bank:
    """Every law (law, tau, prior weight) with every wobble size and autocorrelation. Weights: judgement."""
    rows = [(law, tau, p, w, rho) for law, tau, p in laws for w in wobbles for rho in rhos]
    law, tau, p, w, rho = (np.array(column) for column in zip(*rows, strict=True))
    return Bank(law.astype(np.int64), tau.astype(float), w, rho, p / p.sum())


@dataclass(frozen=True, slots=True)
class Answers:
    """Observations in the order of time: one row each. `slot` 0-2 part of day, 3 tape (Gaussian).

    For a tape row `low` is the measured change in mm and `soft` its standard deviation.
    """

    limb: Ints
    day: Ints
    slot: Ints
    low: Array
    high: Array
    soft: Array
    lapse: Array


@dataclass(frozen=True, slots=True)
class Starts:
    """Sockets fitted: limb, day, mean and sd of the need on that day. A limb's first one is its day 0.

    `pad_limb`, `pad_day`, `pad_sd`: pads added, by which the need may shift unseen by so many mm.
    """

    limb: Ints
    day: Ints
    mean: Array
    sd: Array
    pad_limb: Ints
    pad_day: Ints
    pad_sd: Array


@dataclass(frozen=True, slots=True)
class Limbs:
    """What is known of each limb beforehand. Days count from the limb's own first day.

    `age`: days from amputation to day 0; `coming`/`coming_sd`: prior of the change over the first 28 days;
    `weekly`: sd of the weekly cycle (0: none); `weekday`: weekday of day 0; `slow` and
    `even`: prior chance of hardly any trend and of an even one.
    """

    age: Array
    coming: Array
    coming_sd: Array
    weekly: Array
    weekday: Ints
    slow: Array
    even: Array


@dataclass(frozen=True, slots=True)
class Tuning:
    """Numbers of the filter that are settings rather than physics. All judgement, set on simulations."""

    margin: float = 0.7
    jumps: tuple[float, ...] = (0.5, -0.5, 1.0, -1.0)
    alarm: float = 4.2
    least_days: int = 5  # days with an answer before a change can be called sudden
    window: int = 10  # start days of a jump kept in view
    swing_sd: float = 0.3
    jump_sd: float = 0.6
    slow_sd: float = 0.12  # mm in 28 days


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The members' beliefs of limbs `limb` at the end of `day`; arrays limbs x members.

    `tail`: the larger chance of the coming change beyond the margin on one side.
    """

    limb: Ints
    day: int
    weight: Array
    mean: tuple[Array, ...]
    var_d: Array
    var_r: Array
    var_b: Array
    var_s: Array
    cov_dr: Array
    cov_db: Array
    age: Array
    tail: Array


@dataclass(frozen=True, slots=True)
class Alarm:
    limb: int
    day: int
    since: int
    jump: float
    size: float
    size_sd: float


@dataclass(frozen=True, slots=True)
class Track:
    """Day by day, days x limbs: level d (mean, sd), need d + b, coming 28-day change and its tails."""

    change: Array
    change_sd: Array
    need: Array
    need_sd: Array
    coming: Array
    coming_sd: Array
    inside: Array
    above: Array
    below: Array
    alarms: tuple[Alarm, ...]


def run_bank(
    bank: Bank,
    limbs: Limbs,
    starts: Starts,
    answers: Answers,
    last_day: Ints,
    tuning: Tuning,
    wanted: Callable[[int], Ints] | None = None,
    keep: Callable[[Snapshot], None] | None = None,
) -> Track:
    """Filter all limbs forward day by day. `wanted(day)` names the limbs whose snapshot `keep` gets."""
    n, m = len(limbs.age), bank.size
    days = int(last_day.max()) + 1 if n else 0
    weekly = bool(np.any(limbs.weekly > 0))
    dim = 5 + (HARMONICS if weekly else 0)
    law, tau = bank.law[None, :], bank.tau[None, :]

    mean = [np.zeros((n, m)) for _ in range(dim)]
    cov: dict[tuple[int, int], Array] = {}
    for i in range(dim):
        for j in range(i, dim):
            cov[i, j] = cov[j, i] = np.zeros((n, m))
    slow = bank.law == settling.SLOW
    even = bank.law == settling.EVEN
    shares = (limbs.slow, limbs.even, 1.0 - limbs.slow - limbs.even)
    log_weight = np.zeros((n, m))
    for which, share in zip((slow, even, ~(slow | even)), shares, strict=True):
        within = bank.prior[which] / bank.prior[which].sum() if which.any() else bank.prior[which]
        log_weight[:, which] = np.log(np.maximum(share[:, None] * within, 1e-12))

    unit = settling.reach(law, tau, limbs.age[:, None], 28.0)
    per = 1.0 / unit
    mean[R] += np.where(slow, 0.0, limbs.coming[:, None]) * per
    cov[R, R] += (np.where(slow, tuning.slow_sd, limbs.coming_sd[:, None]) * per) ** 2
    cov[S, S] += tuning.swing_sd**2
    cov[W, W] += (bank.wobble**2)[None, :]
    for k in range(5, dim):
        cov[k, k] += (limbs.weekly**2)[:, None] / 3.0

    q_level = bank.level_noise**2
    q_rate = np.full((1, m), bank.rate_noise**2)
    q_wobble = (bank.wobble**2 * (1 - bank.rho**2))[None, :]
    rho = bank.rho[None, :]
    log_law = np.flatnonzero(bank.law == settling.LOG_TIME)
    step_fade = np.tile(settling.fade(law, tau, np.ones((1, 1)), 1.0), (n, 1))
    step_reach = np.tile(settling.reach(law, tau, np.ones((1, 1)), 1.0), (n, 1))
    ahead28 = unit.copy()

    sizes, window = np.array(tuning.jumps), tuning.window
    jumps = np.tile(sizes, window)
    n_jump = len(jumps)
    log_share = -np.log(len(sizes))
    total = np.full((n, n_jump), -np.inf)
    left = np.zeros((dim, n, n_jump))
    begun = np.zeros((n, n_jump), np.int64)
    turn = np.zeros(n, np.int64)
    alarms: list[Alarm] = []
    out = {k: np.zeros((days, n)) for k in Track.__slots__ if k != "alarms"}

    start_at = _by_day(starts.day, days)
    pads_at = _by_day(starts.pad_day, days)
    rows_at = _by_day(answers.day, days)

    for day in range(days):
        if day:
            age = limbs.age + day - 1
            if len(log_law):
                step_fade[:, log_law] = (age / (age + 1.0))[:, None]
                step_reach[:, log_law] = (age * np.log1p(1.0 / age))[:, None]
                now = age + 1.0
                ahead28[:, log_law] = (now * np.log1p(28.0 / now))[:, None]
            _predict(mean, cov, dim, step_fade, step_reach, q_level, q_rate, q_wobble, rho)
            left[D] += left[R] * _blend(log_weight, step_reach)[:, None]
            left[R] *= _blend(log_weight, step_fade)[:, None]
            left[W] *= _blend(log_weight, np.broadcast_to(rho, (n, m)))[:, None]
        for row in start_at[day]:
            i = int(starts.limb[row])
            _start(mean, cov, dim, i, starts.mean[row], starts.sd[row])
            total[i] = -np.inf
        for row in pads_at[day]:
            cov[B, B][starts.pad_limb[row]] += starts.pad_sd[row] ** 2
            total[starts.pad_limb[row]] = -np.inf
        rows = rows_at[day]
        said = np.unique(answers.limb[rows[answers.slot[rows] != TAPE]]) if len(rows) else rows
        if len(said):
            at_slot = (turn[said] % window)[:, None] * len(sizes) + np.arange(len(sizes))
            turn[said] += 1
            total[said[:, None], at_slot] = 0.0
            left[:, said[:, None], at_slot] = 0.0
            left[D, said[:, None], at_slot] = 1.0
            begun[said[:, None], at_slot] = day
        for slot in range(4) if len(rows) else ():
            mine = rows[answers.slot[rows] == slot]
            if not len(mine):
                continue
            at = answers.limb[mine]
            gain, z, centre, spread = _update(
                mean, cov, log_weight, dim, at, slot, day, mine, answers, limbs.weekday, weekly
            )
            if slot == TAPE:
                continue
            h = _direction(dim, slot, day, limbs.weekday[at])
            keep_left = left[:, at]
            seen_shift = np.einsum("kn,knj->nj", h, keep_left)
            a, b, s, e = (x[mine][:, None] for x in (answers.low, answers.high, answers.soft, answers.lapse))
            z0, g0, _ = observation.answer_score(centre[:, None], spread[:, None], a, b, s, e)
            z1, g1, _ = observation.answer_score(centre[:, None] + jumps * seen_shift, spread[:, None], a, b, s, e)
            total[at] = total[at] + np.log(z1 / z0)
            # What the filter would have learnt more had it known of the jump.
            left[:, at] = keep_left + gain[:, :, None] * ((g1 - g0) / jumps)
        if len(rows):
            peak = np.maximum(total.max(axis=1), -50.0)
            best = peak + np.log(np.exp(np.maximum(total - peak[:, None], -60.0)).sum(axis=1)) + log_share
            for i in map(int, np.flatnonzero(best > tuning.alarm)):
                if turn[i] >= tuning.least_days:
                    chance = np.exp(np.maximum(total[i] - total[i].max(), -60.0))
                    alarms.append(_jump(mean, cov, i, day, begun[i], jumps, left[:, i], chance, tuning))
                total[i] = -np.inf

        weight = _weights(log_weight)
        _summarise(out, day, weight, mean, cov, ahead28, tuning.margin)
        if wanted is not None and keep is not None:
            who = wanted(day)
            if len(who):
                keep(
                    Snapshot(
                        who,
                        day,
                        weight[who],
                        tuple(mean[k][who] for k in range(5)),
                        cov[D, D][who],
                        cov[R, R][who],
                        cov[B, B][who],
                        cov[S, S][who],
                        cov[D, R][who],
                        cov[D, B][who],
                        limbs.age[who] + day,
                        np.maximum(out["above"][day, who], out["below"][day, who]),
                    )
                )
    return Track(alarms=tuple(alarms), **out)


def _by_day(day: Ints, days: int) -> list[Ints]:
    order = np.argsort(day, kind="stable")
    edges = np.searchsorted(day[order], np.arange(days + 1))
    return [order[edges[d] : edges[d + 1]] for d in range(days)]


def _predict(
    mean: list[Array],
    cov: dict[tuple[int, int], Array],
    dim: int,
    fade: Array,
    reach: Array,
    q_level: float,
    q_rate: Array,
    q_wobble: Array,
    rho: Array,
) -> None:
    mean[D] += reach * mean[R]
    mean[R] *= fade
    mean[W] *= rho
    crossed = reach * cov[R, R]
    cov[D, D] += reach * (2.0 * cov[D, R] + crossed)
    cov[D, D] += q_level
    cov[D, R] += crossed
    cov[D, R] *= fade
    cov[R, R] *= fade * fade
    cov[R, R] += q_rate
    for k in (B, S, W, *range(5, dim)):
        cov[D, k] += reach * cov[R, k]
        cov[R, k] *= fade
    for k in range(dim):
        cov[W, k] *= rho
    cov[W, W] *= rho
    cov[W, W] += q_wobble


def _start(mean: list[Array], cov: dict[tuple[int, int], Array], dim: int, i: int, need: float, sd: float) -> None:
    """A socket fitted: the change counts from here, and the need is what was worn at the fitting."""
    for k in range(dim):
        cov[D, k][i] = 0.0
        cov[B, k][i] = 0.0
    mean[D][i] = 0.0
    mean[B][i] = need
    cov[B, B][i] = sd * sd


def _direction(dim: int, slot: int, day: int, weekday: Ints) -> Array:
    """Row vector of the observation, states x limbs."""
    h = np.zeros((dim, len(weekday)))
    h[[D, B, W]] = 1.0
    h[S] = PART[slot]
    if dim > 5:
        angle = 2.0 * np.pi * ((weekday + day) % 7) / 7.0
        for k in range(3):
            h[5 + 2 * k] = np.cos((k + 1) * angle)
            h[6 + 2 * k] = np.sin((k + 1) * angle)
    return h


def _update(
    mean: list[Array],
    cov: dict[tuple[int, int], Array],
    log_weight: Array,
    dim: int,
    at: Ints,
    slot: int,
    day: int,
    rows: Ints,
    answers: Answers,
    weekday: Ints,
    weekly: bool,
) -> tuple[Array, Array, Array, Array]:
    """One answer each of the limbs `at`. Returns the bank's mean gain (states x limbs), Z, centre, spread."""
    whole = len(at) == len(log_weight)
    pick: slice | Ints = slice(None) if whole and np.array_equal(at, np.arange(len(at))) else at
    low, high, soft, lapse = (x[rows][:, None] for x in (answers.low, answers.high, answers.soft, answers.lapse))
    if slot == TAPE:
        h = [1.0] + [0.0] * (dim - 1)
    else:
        h = [1.0, 0.0, 1.0, PART[slot], 1.0]
    held = [mean[k][pick] for k in range(dim)]
    sub = {(i, j): cov[i, j][pick] for i in range(dim) for j in range(i, dim)}
    waves: list[Array] = []
    if weekly and slot != TAPE:
        full = _direction(dim, slot, day, weekday[at])
        waves = [full[k][:, None] for k in range(5, dim)]
    coefficient: list[Array | float] = [*h[:5], *(waves if waves else [0.0] * (dim - 5))]
    used = [k for k in range(dim) if not (isinstance(coefficient[k], float) and coefficient[k] == 0.0)]

    def entry(i: int, j: int) -> Array:
        return sub[(i, j) if i <= j else (j, i)]

    def times(c: Array | float, x: Array) -> Array:
        return x if isinstance(c, float) and c == 1.0 else c * x

    centre = np.zeros_like(held[0])
    ph = []
    for k in used:
        centre += times(coefficient[k], held[k])
    for i in range(dim):
        acc = times(coefficient[used[0]], entry(i, used[0]))
        acc = acc + 0.0 if len(used) == 1 else acc + times(coefficient[used[1]], entry(i, used[1]))
        for k in used[2:]:
            acc += times(coefficient[k], entry(i, k))
        ph.append(acc)
    spread = np.zeros_like(centre)
    for k in used:
        spread += times(coefficient[k], ph[k])
    spread = np.maximum(spread, 1e-9)
    if slot == TAPE:
        total = spread + soft * soft
        g = (low - centre) / total
        hh = 1.0 / total
        z = np.exp(-0.5 * g * g * total) / np.sqrt(total) + 1e-12
    else:
        z, g, hh = observation.answer_score(centre, spread, low, high, soft, lapse)
    old = _weights(log_weight[pick])
    # A jump may come any day: no single answer may cost a member more than its share of that chance.
    log_weight[pick] += np.log(z + (JUMP_CHANCE if slot != TAPE else 0.0))
    gain = np.empty((dim, len(at)))
    for i in range(dim):
        mean[i][pick] = held[i] + ph[i] * g
        scaled = ph[i] * hh
        gain[i] = np.einsum("nm,nm->n", old, ph[i])
        for j in range(i, dim):
            cov[i, j][pick] = sub[i, j] - scaled * ph[j]
    centre_all = np.einsum("nm,nm->n", old, centre)
    spread_all = np.einsum("nm,nm->n", old, spread + centre * centre) - centre_all**2
    return gain, z, centre_all, np.maximum(spread_all, 1e-9)


def _weights(log_weight: Array) -> Array:
    """Normalises in place, too, so that the logs stay small."""
    log_weight -= log_weight.max(axis=1, keepdims=True)
    np.maximum(log_weight, -40.0, out=log_weight)
    w = np.exp(log_weight)
    return np.asarray(w / w.sum(axis=1, keepdims=True))


def _blend(log_weight: Array, values: Array) -> Array:
    return np.asarray(np.einsum("nm,nm->n", _weights(log_weight), values))


def _jump(
    mean: list[Array],
    cov: dict[tuple[int, int], Array],
    i: int,
    day: int,
    begun: Ints,
    jumps: Array,
    left: Array,
    chance: Array,
    tuning: Tuning,
) -> Alarm:
    """Let the level move where the filter has not yet taken the jump up: N(jump, jump_sd^2) along `left`.

    The size told is the mean over jumps of the likeliest sign, each by its evidence.
    """
    j = int(np.argmax(chance))
    along, var = left[:, j], tuning.jump_sd**2
    dim = len(along)
    for k in range(dim):
        mean[k][i] += jumps[j] * along[k]
        for q in range(k, dim):
            cov[k, q][i] += var * along[k] * along[q]
    share = np.where(jumps * jumps[j] > 0, chance, 0.0)
    share /= share.sum()
    size = float(share @ jumps)
    spread = float(share @ (jumps - size) ** 2)
    return Alarm(i, day, int(begun[j]), float(jumps[j]), size, float(np.sqrt(spread + 0.25**2)))


def _summarise(
    out: dict[str, Array],
    day: int,
    weight: Array,
    mean: list[Array],
    cov: dict[tuple[int, int], Array],
    ahead28: Array,
    margin: float,
) -> None:
    def pooled(x: Array, var: Array) -> tuple[Array, Array]:
        centre = np.einsum("nm,nm->n", weight, x)
        square = np.einsum("nm,nm->n", weight, var + x * x) - centre * centre
        return centre, np.sqrt(np.maximum(square, 0.0))

    out["change"][day], out["change_sd"][day] = pooled(mean[D], cov[D, D])
    out["need"][day], out["need_sd"][day] = pooled(mean[D] + mean[B], cov[D, D] + 2.0 * cov[D, B] + cov[B, B])
    coming = mean[R] * ahead28
    spread = np.sqrt(cov[R, R]) * ahead28 + 1e-6
    out["coming"][day], out["coming_sd"][day] = pooled(coming, spread * spread)
    high = observation.normal_cdf((coming - margin) / spread)
    low = observation.normal_cdf((-margin - coming) / spread)
    out["above"][day] = np.einsum("nm,nm->n", weight, high)
    out["below"][day] = np.einsum("nm,nm->n", weight, low)
    out["inside"][day] = 1.0 - out["above"][day] - out["below"][day]
