"""Simulated limbs with their truth: what the engine is scored on. Every draw comes from the seed.

In: sizes, seed, knobs. Out: `Simulated`, each with a `LimbHistory` and the true slow level day by day.
No engine code is used here, and the engine uses nothing of this.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from plytide.model import CheckIn, Limb, LimbHistory, Measurement, Sock, Socket, TapeLevel

Array = NDArray[np.float64]

TRENDS = ("settling-exp", "settling-log", "steady", "step", "growth", "dialysis")
TREND_SHARE = (0.22, 0.20, 0.20, 0.22, 0.08, 0.08)
HABITS = ("plain", "copied", "always-good", "twice")
HABIT_SHARE = (0.55, 0.15, 0.15, 0.15)
MORE_TRUTH = 400  # days of the slow level beyond those of the need: what a cast made at the end of the log is for

# Loaded thickness in mm of a sock by ply: Sanders, Cagle, Harrison, Karchin, Prosthet Orthot Int 2012;36(1):77-86;
# 2 ply lies between its neighbours (judgement).
SINGLE_MM = {0: 0.0, 1: 0.7, 2: 0.95, 3: 1.2, 5: 1.5}
BLEND_MM = {0: 0.0, 1: 0.4, 2: 0.55, 3: 0.7, 5: 0.8}


@dataclass(frozen=True, slots=True)
class Knobs:
    """What can be moved to see whether the engine is tuned to its own simulator."""

    thickness: float = 1.0  # true mm per sock against the published table
    own_socks: float = 0.10  # how far one wearer's socks lie from that: sd, as a share
    wobble: float = 1.0
    slow: float = 1.0  # how slow wearers are to change the stack; 0: at once
    choice: float = 0.0  # mm: how far off a wearer feels the need when choosing, from one check-in to the next
    blends: float = 0.1  # share of wearers with blended socks
    missing: float = 1.0
    sockets: int = 1  # the most of one limb; each has from one to so many, as often
    home_tape_every: int = 0  # days between tape measurements at home, by one hand; 0: none
    home_tape_mm: float = 3.0  # how far off each is in circumference, by itself (sd)
    home_tape_drift_mm: float = 0.3  # how far the hand's habit wanders, in mm of circumference per sqrt(day) (sd)
    tau_days: float = 32.0  # of the exponential law: median, spread (sd of the log) and ends
    tau_spread: float = 0.5
    tau_ends: tuple[float, float] = (10.0, 90.0)
    log_pct: float = 10.0  # of the log-time law: median loss by unit of ln(time), in percent
    mixed: float = 0.0  # share of exponential limbs of which half of the loss follows the other law
    rho: tuple[float, float] = (0.3, 0.8)  # from one day's wobble to the next
    heavy: float = 0.0  # share of limbs whose wobble has heavy tails (t with 4 degrees of freedom)
    run: tuple[float, float] = (1.5, 6.0)  # days a gap lasts on average
    trends: tuple[float, ...] = TREND_SHARE
    habits: tuple[float, ...] = HABIT_SHARE
    days: int = 120


#: Cohorts that differ from the first in law, time constant, wobble, honesty and gaps. What is set by looking at some is
#: judged on the others: the engine's numbers were set on `first` and `broad`, never on `slow` and `quick`.
COHORTS: dict[str, Knobs] = {
    "first": Knobs(),
    "broad": Knobs(tau_days=38.0, tau_spread=1.0, tau_ends=(12.0, 120.0), mixed=0.4, own_socks=0.06, heavy=0.3),
    "slow": Knobs(
        tau_days=65.0, tau_spread=0.35, tau_ends=(35.0, 120.0), log_pct=7.0, mixed=0.3, wobble=1.2, rho=(0.5, 0.85),
        own_socks=0.05, run=(3.0, 9.0), habits=(0.35, 0.3, 0.25, 0.1),
    ),
    "quick": Knobs(
        tau_days=18.0, tau_spread=0.3, tau_ends=(12.0, 35.0), log_pct=13.0, mixed=0.6, wobble=0.8, rho=(0.1, 0.6),
        heavy=0.5, missing=0.6, habits=(0.8, 0.05, 0.05, 0.1), choice=0.15, trends=(0.3, 0.12, 0.2, 0.22, 0.06, 0.1),
    ),
}  # fmt: skip

#: Where a clinic's limbs differ from those at large in one thing: what learning from them is judged on.
SHIFTED: dict[str, Knobs] = {
    "as at large": Knobs(),
    "settles in weeks": Knobs(tau_days=15.0, tau_spread=0.15, trends=(0.75, 0.0, 0.05, 0.1, 0.0, 0.1)),
    "never quite done": Knobs(log_pct=7.0, trends=(0.0, 0.75, 0.05, 0.1, 0.0, 0.1)),
    "twice the wobble": Knobs(wobble=2.0),
    "half the wobble": Knobs(wobble=0.5),
}


@dataclass(frozen=True, slots=True)
class Truth:
    """What the engine may not see. `level_mm` is the slow need in the first socket, day by day from its fitting:
    the limb's own scale. `fitted` are the days on which a socket was fitted."""

    trend: str
    habit: str
    level_mm: Array
    radius_mm: float
    step_day: int | None
    step_mm: float
    missing: float
    fitted: tuple[int, ...] = (0,)

    def change_mm(self, day: int) -> float:
        """Since the socket worn was fitted."""
        return self.between_mm(max(each for each in self.fitted if each <= day), day)

    def between_mm(self, day: int, later: int) -> float:
        """Of the limb, whatever sockets were worn."""
        return float(self.level_mm[later] - self.level_mm[day])

    def across(self, day: int, later: int) -> bool:
        """Whether a socket was fitted between the two days."""
        return any(day < each <= later for each in self.fitted)

    def coming_mm(self) -> Array:
        """Change over the coming 28 days, for each day with so much future."""
        return self.level_mm[28:] - self.level_mm[:-28]

    def smooth_coming_mm(self) -> Array:
        """The same without the step: what a trend could foresee."""
        level = self.level_mm.copy()
        if self.step_day is not None:
            level[self.step_day :] -= self.step_mm
        return level[28:] - level[:-28]


@dataclass(frozen=True, slots=True)
class Simulated:
    """A limb with what is true of it. `needs`: the true need in mm, days x parts of the day."""

    history: LimbHistory
    truth: Truth
    days: int
    needs: Array


def cohort(limbs: int, seed: int, knobs: Knobs = Knobs()) -> list[Simulated]:
    """`limbs` simulated limbs; the same seed gives the same limbs."""
    root = np.random.SeedSequence(seed)
    return [
        # What a knob adds has draws of its own, so that without it the limbs are the same.
        _one(f"sim-{seed}-{i}", np.random.default_rng(child), np.random.default_rng(child.spawn(1)[0]), knobs)
        for i, child in enumerate(root.spawn(limbs))
    ]


def _ladder(mm: dict[int, float], plies: tuple[int, ...]) -> list[tuple[float, tuple[int, ...]]]:
    """Choices of a wearer who owns these plies, thinnest first, at least 0.2 mm apart."""
    stacks = sorted(
        (sum(mm[p] for p in stack), len(stack), stack)
        for size in range(0, 8)
        for stack in combinations_with_replacement(plies, size)
    )
    rungs: list[tuple[float, tuple[int, ...]]] = []
    for total, _, stack in stacks:
        if not rungs or total - rungs[-1][0] >= 0.2:
            rungs.append((total, stack))
    return rungs


def _later_fittings(rng: np.random.Generator, knobs: Knobs) -> list[int]:
    """Days of the sockets after the first, at least three weeks apart and from the ends of the log."""
    wanted = int(rng.integers(1, knobs.sockets + 1)) - 1
    days: list[int] = []
    for day in rng.permutation(np.arange(21, knobs.days - 20)).tolist():
        if len(days) < wanted and all(abs(day - each) >= 21 for each in days):
            days.append(day)
    return sorted(days)


def _one(name: str, rng: np.random.Generator, more: np.random.Generator, knobs: Knobs) -> Simulated:
    trend = str(rng.choice(TRENDS, p=knobs.trends))
    habit = str(rng.choice(HABITS, p=knobs.habits))
    child = trend == "growth"
    circumference = float(rng.uniform(200, 280) if child else rng.uniform(240, 430))
    radius = circumference / (2 * math.pi)
    per_pct = radius / 200.0  # mm of need per percent of volume
    horizon = knobs.days + 1 + 28 + 200
    t = np.arange(horizon + MORE_TRUTH, dtype=float)
    mature = trend in ("steady", "dialysis") and rng.random() < 0.6 or child
    since_amputation = float(rng.uniform(600, 2000) if mature else rng.uniform(40, 120))

    slow = np.zeros(len(t))
    base = trend
    if trend == "step":
        base = str(rng.choice(["steady", "settling-exp", "settling-log"], p=[0.5, 0.25, 0.25]))
    if base == "settling-exp":
        total_pct = float(np.clip(rng.lognormal(math.log(7.0), 0.45), 3.0, 16.0))
        tau = float(np.clip(rng.lognormal(math.log(knobs.tau_days), knobs.tau_spread), *knobs.tau_ends))
        slow = total_pct * per_pct * (1 - np.exp(-t / tau))
        if knobs.mixed and more.random() < knobs.mixed:
            other = 10.0 * float(more.uniform(0.5, 1.2)) * np.log((since_amputation + t) / since_amputation) * per_pct
            slow = 0.5 * slow + 0.5 * other
    elif base == "settling-log":
        slope_pct = float(np.clip(rng.lognormal(math.log(knobs.log_pct), 0.4), 4.0, 20.0))
        slow = slope_pct * per_pct * np.log((since_amputation + t) / since_amputation)
    elif base == "growth":
        slow = -float(rng.uniform(0.4, 1.6)) * per_pct / 28.0 * t
    elif base in ("steady", "dialysis"):
        slow = rng.uniform(-0.4, 0.4) * per_pct / 28.0 * t
    step_day, step_mm = None, 0.0
    if trend == "step":
        step_day = int(rng.integers(25, knobs.days - 20))
        step_mm = float(rng.choice([-1, 1], p=[0.4, 0.6]) * rng.uniform(2, 5) * per_pct)
        slow = slow + np.where(t >= step_day, step_mm, 0.0)

    sd = knobs.wobble * float(np.clip(rng.lognormal(math.log(0.7), 0.35), 0.3, 1.6)) * per_pct
    rho = float(rng.uniform(*knobs.rho))
    wobble = np.empty(horizon)
    shocks = rng.normal(size=horizon)
    if knobs.heavy and more.random() < knobs.heavy:
        shocks = more.standard_t(4, horizon) / math.sqrt(2.0)  # of variance 1, too
    wobble[0] = shocks[0] * sd
    for i in range(1, horizon):
        wobble[i] = rho * wobble[i - 1] + shocks[i] * sd * math.sqrt(1 - rho * rho)
    swing = float(np.clip(rng.normal(1.2, 0.6), -0.3, 3.0)) * per_pct
    fitted = date(2026, 1, 5) + timedelta(days=int(rng.integers(0, 60)))
    weekly = np.zeros(7)
    if trend == "dialysis":
        size = float(rng.uniform(1.0, 3.0)) * per_pct
        # Fluid gathers between sessions (less needed), and is taken off on three weekdays.
        weekly = size * (np.array([0.5, 0.1, 0.5, 0.1, 0.5, 0.1, -0.5]))
        weekly -= weekly.mean()

    blend = rng.random() < knobs.blends
    table = BLEND_MM if blend else SINGLE_MM
    make = "blend" if blend else "single"
    plies = [(1, 3, 5), (1, 3), (1, 2, 3), (1, 3, 5), (1,)][int(rng.integers(0, 5))]
    rungs = _ladder(table, plies)
    believed = np.array([r[0] for r in rungs])
    true_mm = believed * knobs.thickness * (1.0 + rng.normal() * knobs.own_socks)
    start = float(rng.uniform(0.2, 1.6)) + (2.5 if child else 0.0)
    if trend == "step" and step_mm < 0 or trend == "dialysis":
        start += 1.0
    fitted_on_days = [0, *(_later_fittings(more, knobs) if knobs.sockets > 1 else ())]
    need = start + slow[:horizon] + wobble
    for day_fitted in fitted_on_days[1:]:
        # A socket made for the limb of that day: so much sock is worn in it to begin with, whatever was worn before.
        to_begin_with = start + float(more.uniform(-0.4, 0.6))
        need[day_fitted:] = (to_begin_with + slow[:horizon] - slow[day_fitted] + wobble)[day_fitted:]

    def nearest(x: float) -> int:
        return int(np.argmin(np.abs(true_mm - x)))

    fittings = [nearest(need[each]) for each in fitted_on_days]
    hesitation = float(rng.uniform(0.0, 0.25)) * knobs.slow
    awake = 1.0 - (1.0 - float(rng.uniform(0.5, 1.0))) * knobs.slow
    cue = float(rng.uniform(0.15, 0.35))
    missing = float(rng.uniform(0.1, 0.6)) * knobs.missing
    run = float(rng.uniform(*knobs.run))
    stop, begin = 1.0 / run, min(1.0, missing / (1 - missing) / run)
    moment = str(rng.choice(["putting_on", "during", "end_of_day"], p=[0.5, 0.15, 0.35]))
    moments = ("putting_on", "end_of_day") if habit == "twice" else (moment,)
    clock = {"putting_on": "07:30", "during": "13:10", "end_of_day": "20:45"}
    part = {"putting_on": 0, "during": 1, "end_of_day": 2}

    weekdays = np.array([(fitted.weekday() + d) % 7 for d in range(horizon)])
    needs = (need + weekly[weekdays])[:, None] + swing * np.array([-0.5, 0.0, 0.5])[None, :]
    checkins: list[CheckIn] = []
    worn = fittings[0]
    gone = rng.random() < missing
    comfort_mean = float(rng.uniform(6, 9))
    before: CheckIn | None = None
    for d in range(knobs.days + 1):
        if d in fitted_on_days:
            worn = fittings[fitted_on_days.index(d)]
        gone = (rng.random() > stop) if gone else (rng.random() < begin)
        if gone:
            continue
        day = fitted + timedelta(days=d)
        for which in moments:
            n = float(needs[d, part[which]]) + (knobs.choice * rng.normal() if knobs.choice else 0.0)
            best = nearest(n)
            if best != worn and rng.random() < awake:
                if abs(n - true_mm[worn]) - abs(n - true_mm[best]) > hesitation:
                    worn = best
            felt = n - true_mm[worn] + rng.normal() * 0.1
            fit = "loose" if felt > cue else "tight" if felt < -cue else "good"
            if rng.random() < 0.03:
                fit = str(rng.choice(["loose", "good", "tight"]))
            if habit == "always-good":
                fit = "good"
            comfort = int(np.clip(round(comfort_mean - abs(felt) + rng.normal() * 0.7), 0, 10))
            entry = CheckIn(
                id=f"{name}-{d}-{which}",
                limb_id=name,
                date=day,
                time=clock[which],
                offset=60,
                moment=which,
                stack=tuple(Sock(p, make) for p in rungs[worn][1]),
                fit=fit,
                comfort=comfort,
            )
            if habit == "copied" and before is not None and rng.random() < 0.5:
                entry = replace(
                    entry,
                    stack=before.stack,
                    fit=before.fit,
                    comfort=before.comfort,
                    prefilled=bool(rng.random() < 0.5),
                )
            checkins.append(entry)
            before = entry
    tapes = []
    for d in (0, 42, 84):
        size = 1.0 - slow[d] / radius
        noise = rng.normal(0, 5.0, 4)
        levels = tuple(
            TapeLevel(40.0 * k, round(circumference * (0.82 + 0.06 * k) * size + float(noise[k]), 0)) for k in range(4)
        )
        tapes.append(Measurement(fitted + timedelta(days=d), levels, minutes_since_doffing=10.0))
    if knobs.home_tape_every:
        pull = np.cumsum(more.normal(0, knobs.home_tape_drift_mm, knobs.days + 1))
        tapes = []
        for d in range(0, knobs.days + 1, knobs.home_tape_every):
            # The limb of that day, wobble and all; one pull on the tape for every level.
            size = 1.0 - (slow[d] + wobble[d] + weekly[weekdays[d]]) / radius
            off = pull[d] + more.normal(0, knobs.home_tape_mm)
            girths = [circumference * (0.82 + 0.06 * k) * size + off for k in range(4)]
            levels = tuple(TapeLevel(40.0 * k, round(float(girth), 0)) for k, girth in enumerate(girths))
            tapes.append(Measurement(fitted + timedelta(days=d), levels, measured_by="at home"))
    history = LimbHistory(
        limb=Limb(
            id=name,
            amputated_on=None if child else fitted - timedelta(days=int(since_amputation)),
            reference_circumference_mm=round(circumference),
            born_on=fitted - timedelta(days=int(365 * rng.uniform(4, 14))) if child else None,
            tags=("dialysis",) if trend == "dialysis" else ("congenital",) if child else (),
        ),
        sockets=tuple(
            Socket(
                f"{name}-s{n or ''}",
                fitted + timedelta(days=day_fitted),
                stack_at_fitting=tuple(Sock(p, make) for p in rungs[stack][1]),
                baseline_unsure=not rungs[stack][1],  # as a file's empty list is read
                weight_limit_kg=125.0,
                limb_id=name,
            )
            for n, (day_fitted, stack) in enumerate(zip(fitted_on_days, fittings, strict=True))
        ),
        measurements=tuple(tapes),
        checkins=tuple(checkins),
    )
    return Simulated(
        history, Truth(trend, habit, slow, radius, step_day, step_mm, missing, tuple(fitted_on_days)), knobs.days, needs
    )


def contract_lines(people: list[Simulated]) -> Iterator[dict[str, object]]:
    """The histories in the form `plytide assess` reads."""
    for person in people:
        h = person.history
        yield {
            "limb": {
                "id": h.limb.id,
                "side": h.limb.side,
                "level": h.limb.level,
                "amputated_on": h.limb.amputated_on.isoformat() if h.limb.amputated_on else None,
                "reference_circumference_mm": h.limb.reference_circumference_mm,
                "born_on": h.limb.born_on.isoformat() if h.limb.born_on else None,
                "tags": list(h.limb.tags),
            },
            "sockets": [
                {
                    "id": s.id,
                    "fitted_on": s.fitted_on.isoformat(),
                    "purpose": s.purpose,
                    "stack_at_fitting": [{"ply": k.ply, "make": k.make} for k in s.stack_at_fitting or ()],
                    "weight_limit_kg": s.weight_limit_kg,
                }
                for s in h.sockets
            ],
            "pads": [],
            "measurements": [
                {
                    "on": m.on.isoformat(),
                    "levels": [
                        {"from_end_mm": v.from_end_mm, "circumference_mm": v.circumference_mm} for v in m.levels
                    ],
                }
                for m in h.measurements
            ],
            "checkins": [
                {
                    "id": c.id,
                    "date": c.date.isoformat(),
                    "time": c.time,
                    "offset": "+01:00",
                    "moment": c.moment,
                    "stack": [{"ply": k.ply, "make": k.make} for k in c.stack],
                    "fit": c.fit,
                    "comfort": c.comfort,
                    "skin": [],
                    "hours_worn": None,
                    "weight_kg": None,
                    "prefilled": c.prefilled,
                    "replaces": None,
                }
                for c in h.checkins
            ],
        }
