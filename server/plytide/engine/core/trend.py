"""Level, rate and their uncertainty for many limbs at once: a bank of Kalman filters on censored answers.

State of a limb, in mm of needed thickness (positive: the limb is smaller):
    d  change since the socket was fitted      d' = d + reach(1) r + N(0, level_noise^2)
    r  its rate, fading by a settling law      r' = fade(1) r + N(0, rate_noise^2)
    b  need on the day of fitting              constant
    s  morning-to-evening swing                constant
    w  day-to-day wobble                       w' = rho w + N(0, sd^2 (1 - rho^2))
and where a group of limbs has a use for them
    e  change before this socket was fitted    constant
    o  where the tape's own scale starts       constant; moves with the hand that measures
    c  weekly cycle, three harmonics           constant
    need = d + b + w + s (part of day - 1/2) + weekly cycle
    tape = d + w + o
At a new socket the limb stays as it is: e and o take over d with all it is tied to, d begins at 0, b is drawn anew.
So e + d is the change of the limb on one scale, whatever sockets were worn, and two tapes compare across them.
The bank holds every combination of law, wobble size and autocorrelation. Each member is a Kalman filter
(Kalman 1960; notation of Durbin & Koopman 2012, ch. 4: state mean a, variance P) with the update of
`observation.answer_score`, and its weight is its likelihood (Bayesian model averaging). Arrays are
states x limbs x members, so that a day over all limbs is a few dozen whole-array operations.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plytide.engine.core import observation, settling
from plytide.engine.core.bank import (
    HARMONICS,
    OFFSET_SD,
    TAPE,
    Alarm,
    B,
    Bank,
    Beliefs,
    D,
    Heard,
    Layout,
    Limbs,
    R,
    S,
    State,
    Told,
    Track,
    Tuning,
    W,
)
from plytide.engine.core.change import Watch
from plytide.engine.core.day_end import DayEnd, joined, since_day_0

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

PART = (-0.5, 0.0, 0.5)
JUMP_CHANCE = 0.02
KEPT_ROWS = 1500


@dataclass(frozen=True, slots=True)
class Look:
    """`give` is given the beliefs of the limbs `wanted` on a day."""

    wanted: Mapping[int, Ints]
    give: Callable[[Beliefs], None]


@dataclass(frozen=True, slots=True)
class Carry:
    """A pass may go on `after` what was kept of its limbs at the end of the day before its first.

    `give` is given the states of the limbs to `save` on a day (limb, day, state).
    """

    after: State | None
    save: Mapping[int, Ints]
    give: Callable[[int, int, State], None]


def run_bank(
    bank: Bank, told: Told, days: int, tuning: Tuning, look: Look | None = None, carry: Carry | None = None
) -> Track:
    """Filter all limbs forward for `days` days.

    A day's result uses that day and earlier ones only, so one pass serves every date of a replay.
    """
    limbs, starts, answers = told.limbs, told.starts, told.answers
    n, after = len(limbs.age), carry.after if carry else None
    layout = told.layout() if after is None else after.layout
    ahead = _Ahead(bank, limbs)
    watch = Watch(n, layout.states, tuning, np.where(limbs.weekly > 0, tuning.alarm_weekly, 0.0).astype(np.float64))
    if after is None:
        a, p, log_weight = _begin(bank, limbs, tuning, layout)
    else:
        a, p, log_weight = after.a.copy(), after.p.copy(), after.log_weight.copy()
        watch.go_on(after)
    out = {name: np.zeros((days, n)) for name in Track.__slots__ if name not in ("alarms", "tapes")}
    alarms: list[Alarm] = []
    tapes: list[Heard] = []
    held: list[Beliefs] = []
    started, padded, answered = (_by_day(x, days) for x in (starts.day, starts.pad_day, answers.day))

    for day in range(days):
        if day or after is not None:
            weight = _weights(log_weight)
            ahead.to(day - 1)
            predict(a, p, ahead.fade, ahead.reach, bank)
            watch.predict(_mean(weight, ahead.fade), _mean(weight, ahead.reach), weight @ bank.rho)
        for row in started[day]:
            limb = int(starts.limb[row])
            _fit_socket(a, p, limb, float(starts.mean[row]), float(starts.sd[row]), layout.standing)
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
                tapes += _hear_tape(a, p, _weights(log_weight[at]), at, day, answer, layout, tuning, watch)
                continue
            direction = _direction(layout, slot, day + limbs.weekday[at])
            gain, centre, spread = hear(a, p, log_weight, at, direction, answer)
            watch.weigh(at, direction, gain, centre, spread, answer)
        if len(spoke):
            alarms += _alarms_of(day, a, p, watch, tuning)
        weight = _weights(log_weight)
        ahead.to(day)
        end = DayEnd(day, weight, a, p, layout.earlier)
        end.tell(out, ahead.ahead28, tuning.margin)
        if carry is not None and day in carry.save:
            state = State(
                layout, a, p, log_weight, watch.total, watch.left, watch.begun - (day + 1), watch.wobble, watch.days
            )
            for limb in carry.save[day].tolist():
                carry.give(limb, day, state.of(limb))
        if look is not None and day in look.wanted:
            held.append(end.beliefs(look.wanted[day], limbs.age, out))
            if sum(len(each.limb) for each in held) >= KEPT_ROWS:
                look.give(joined(held))
                held = []
    if look is not None and held:
        look.give(joined(held))
    return Track(alarms=tuple(alarms), tapes=tuple(tapes), **out)


def _alarms_of(day: int, a: Array, p: Array, watch: Watch, tuning: Tuning) -> list[Alarm]:
    """What is found today; the level is let move along what the filter has not yet taken up, in place."""
    found: list[Alarm] = []
    for limb in map(int, watch.found()):
        if watch.days[limb] >= tuning.least_days:
            alarm, lag, jump = watch.tell(limb, day)
            found.append(alarm)
            a[:, limb] += jump * lag[:, None]
            p[:, :, limb] += tuning.jump_sd**2 * (lag[:, None] * lag[None, :])[:, :, None]
        watch.forget(limb)
    return found


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


def measure(a: Array, p: Array, at: Ints, value: Array, sd: Array, states: tuple[int, ...]) -> Array:
    """The sum of some states measured with Gaussian error, in place: the ordinary Kalman update. Gives its gain."""
    m = p[:, states][:, :, at].sum(axis=1)
    f = m[states, :].sum(axis=0) + (sd**2)[:, None]
    v = value[:, None] - a[states, :][:, at].sum(axis=0)
    p[:, :, at] -= m[:, None] * (m / f)[None, :]
    a[:, at] += m * (v / f)
    return np.asarray(m / f)


def _hear_tape(
    a: Array,
    p: Array,
    weight: Array,
    at: Ints,
    day: int,
    answer: tuple[Array, ...],
    layout: Layout,
    tuning: Tuning,
    watch: Watch,
) -> list[Heard]:
    """A tape measurement each of the limbs `at`: of the limb that day, wobble and all, on the tape's own scale.

    What one hand and the first tape have wrong is the offset, one state for all tapes, so that measuring every day
    does not make it small. How far one person's tapes scatter is not known either: so they do not weigh the members,
    or a rough hand would pass for a limb that wobbles. And a tape far from what is believed is heard as if it were
    just so far off: a slip of the tape must not turn a trend.
    """
    value, moved, sd, _ = answer
    assert layout.offset is not None, "a tape, and no state for its scale"
    states = (D, W, layout.offset)
    p[layout.offset, layout.offset, at] += (moved**2)[:, None]
    spread = _mean(weight, p[:, :, at][np.ix_(states, states)].sum(axis=(0, 1))) + sd**2
    off = value - _mean(weight, a[states, :][:, at].sum(axis=0))
    odd = np.maximum(off**2 / (tuning.odd_tape**2 * spread), 1.0)
    before = _mean(weight, since_day_0(a, p, layout.earlier, at)[0])
    gain = measure(a, p, at, value, np.sqrt(sd**2 + (odd - 1.0) * spread), states)
    after = _mean(weight, since_day_0(a, p, layout.earlier, at)[0])
    watch.weigh_measured(at, states, np.einsum("nm,knm->kn", weight, gain), off, odd * spread)
    return [Heard(*row) for row in zip(at.tolist(), [day] * len(at), before.tolist(), after.tolist(), strict=True)]


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


def _direction(layout: Layout, slot: int, weekday: Ints) -> Array:
    h = np.zeros((layout.states, len(weekday)))
    h[[D, B, W]] = 1.0
    h[S] = PART[slot]
    angle = 2.0 * np.pi * (weekday % 7) / 7.0
    if layout.weekly is not None:
        for k in range(HARMONICS):
            h[layout.weekly + 2 * k] = np.cos((k + 1) * angle)
            h[layout.weekly + 2 * k + 1] = np.sin((k + 1) * angle)
    return h


def prior_weights(bank: Bank, limbs: Limbs) -> Array:
    """Limbs x members: each limb's chances of hardly any trend, of an even one and of one that settles, shared out
    within these three kinds as the bank says."""
    slow, even = bank.law == settling.SLOW, bank.law == settling.EVEN
    weight = np.ones((len(limbs.age), bank.size))
    shares = (limbs.slow, limbs.even, 1.0 - limbs.slow - limbs.even)
    for which, share in zip((slow, even, ~(slow | even)), shares, strict=True):
        if which.any():
            within = bank.prior[which] / bank.prior[which].sum()
            weight[:, which] = np.maximum(share[:, None] * within, 1e-12)
    return weight


def _begin(bank: Bank, limbs: Limbs, tuning: Tuning, layout: Layout) -> tuple[Array, Array, Array]:
    """Prior mean (states x limbs x members), variance and log weight."""
    n, m, states = len(limbs.age), bank.size, layout.states
    slow = bank.law == settling.SLOW
    log_weight = np.log(prior_weights(bank, limbs))
    per = 1.0 / settling.reach(bank.law[None, :], bank.tau[None, :], limbs.age[:, None], 28.0)
    a, p = np.zeros((states, n, m)), np.zeros((states, states, n, m))
    a[R] = np.where(slow, 0.0, limbs.coming[:, None]) * per
    p[R, R] = (np.where(slow, tuning.slow_sd, limbs.coming_sd[:, None]) * per) ** 2
    p[S, S] = tuning.swing_sd**2
    p[W, W] = bank.wobble**2
    if layout.offset is not None:
        p[layout.offset, layout.offset] = OFFSET_SD**2
    for k in range(layout.weekly or states, states):
        p[k, k] = (limbs.weekly**2)[:, None] / HARMONICS
    return a, p, log_weight


def _fit_socket(a: Array, p: Array, limb: int, need: float, sd: float, standing: tuple[int, ...]) -> None:
    """A socket fitted: its change counts from here, and the need is what was worn at the fitting.

    The limb has not changed by it: what it had changed by goes on in the states that stand, with all it is tied to.
    """
    for k in standing:
        a[k, limb] += a[D, limb]
        p[k, :, limb] += p[D, :, limb]
        p[:, k, limb] += p[:, D, limb]
    for k in (D, B):
        p[k, :, limb] = p[:, k, limb] = 0.0
    a[D, limb], a[B, limb], p[B, B, limb] = 0.0, need, sd * sd


class _Ahead:
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
