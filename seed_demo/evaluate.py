"""`plytide evaluate`: the engine against simulated limbs whose truth is known, and against rules of thumb.

What is counted
  settling limb    trend settling-exp or settling-log whose coming 28-day change exceeds the margin at fitting
  wrongly steady   state steady on any day on which the true coming 28-day change exceeds the margin
  delay            from the first day on which it stays within, to the first day called steady (never: counted
                   as longer than any); only where that day leaves two weeks of log
  steady days      days on which it is within (of all limbs); a day whose state is due or held is left out
  found            the right signal (loss or gain) appears within so many days of the step
  false alarm      a signal (kind and since) that no step of that direction in the 28 days before explains
  covered          change_pct, change_28d_pct and coming_28d_pct on one day a week from day 14; after a step, the
                   coming change is that of the trend without it
  across           change_28d_pct where a socket was fitted in those 28 days; limb: limb_change_pct
  settling day     settles_on as said on day 60, of limbs not yet settled then; signed: median, said less true
  days of good fit see seed_demo/good_fit.py
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from plytide.engine.assess import assess_caseload
from plytide.engine.core import settling
from plytide.engine.core.bank import TAPE, Answers, Bank, Tuning, make_bank
from plytide.engine.core.good_fit import Aim
from plytide.engine.core.thickness import stack_thickness
from plytide.engine.volume import BANK, CONSTANTS, Constants, good_fit_by_day, volume_by_day
from plytide.engine.volume.learning import LEAST_LIMBS, bank_of, learnt
from plytide.model import Assessment, LimbHistory
from seed_demo import good_fit
from seed_demo.cohort import COHORTS, HABITS, SHIFTED, TRENDS, Knobs, Simulated, Truth, cohort
from seed_demo.limits import share_found
from seed_demo.scoring import coverage, crps_normal, interval_score

Flags = NDArray[np.bool_]
MARGIN = 0.7
FOUND_DAYS, EXPLAINED_DAYS = 14, 28
NEVER = 999
STEADY_FIGURES = ("wrongly steady %", "delay, settling d")
ALARM_FIGURES = (f"found in {FOUND_DAYS} d %", "false alarms a year")
OBSERVER_NOISE = (0.0, 0.15, 0.2)  # mm; the answers of the cohort tell the need to about 0.13 to 0.2
BATCH = 250


@dataclass
class Reading:
    """What was said of one limb, day by day: steady, whether the state speaks of it at all, and alarms."""

    steady: Flags
    speaks: Flags
    alarms: list[tuple[int, str]]  # day it first showed, kind
    change: dict[int, tuple[float, float, float]] = field(default_factory=dict)
    coming: dict[int, tuple[float, float, float]] = field(default_factory=dict)
    lately: dict[int, tuple[float, float, float]] = field(default_factory=dict)  # change over the last 28 days
    limb: dict[int, tuple[float, float, float]] = field(default_factory=dict)  # since the first day
    settles: tuple[int, int, int | None] | None = None


# What the trade-offs are shown at; a quick run shows their ends.
ENTER, QUICK_ENTER = (0.01, 0.02, 0.03, 0.05, 0.07, 0.10, 0.15), (0.03, 0.10)
BARS, QUICK_BARS = (3.5, 4.0, 4.3, 5.0, 6.0, 7.0), (4.0, 6.0)


def run(limbs: int = 500, days: int = 120, seeds: int = 3, quick: bool = False) -> int:
    """Print the tables. Returns 0; a figure not reached is printed, not hidden and not an error."""
    print(f"{limbs} limbs x {days} days, seeds 1 to {seeds}; margin {MARGIN} mm; mean (lowest to highest seed)\n")
    groups = [cohort(limbs, seed, Knobs(days=days)) for seed in range(1, seeds + 1)]
    said = [read(people) for people in groups]
    columns = {
        "engine": [score(*pair) for pair in zip(groups, said, strict=True)],
        "same stack 14 d": [score(people, [rule_of_thumb(p, 0.0) for p in people]) for people in groups],
        "1 thin sock in 14 d": [score(people, [rule_of_thumb(p, MARGIN) for p in people]) for people in groups],
        "true need known": [score(people, read_days(people, oracle=True)) for people in groups],
    }
    _table(columns)
    print("\nBy kind of limb (all seeds): % of steady days called, false alarms a year, % covered: change, coming")
    _by_kind(groups, said)
    print("\nTrade-off of the steady claim (chance allowed beyond the margin on one side), seed 1")
    for enter in QUICK_ENTER if quick else ENTER:
        constants = Constants(enter=enter, leave=2 * enter)
        one = score(groups[0], read_days(groups[0], constants))
        known = score(groups[0], read_days(groups[0], constants, oracle=True))
        print(
            f"  {enter:5.2f}: wrongly {one['wrongly steady %']:5.1f} %, delay {one['delay, settling d']:4.0f} d, "
            f"steady days called {one['steady days called %']:5.1f} %"
            f"   true need known: {known['wrongly steady %']:5.1f} %, {known['delay, settling d']:4.0f} d, "
            f"{known['steady days called %']:5.1f} %"
        )
    print(
        "\nTrade-off of the alarm (evidence asked for), all seeds: found in 14 d, false alarms a year; true need known"
    )
    for bar in QUICK_BARS if quick else BARS:
        tuning = Tuning(margin=MARGIN, alarm=bar)
        pairs = [
            _figures([score(p, read_days(p, tuning=tuning, oracle=oracle)) for p in groups], ALARM_FIGURES)
            for oracle in (False, True)
        ]
        (found, false), (found_known, false_known) = pairs
        print(f"  {bar:4.1f}: {found:5.1f} % {false:5.2f}   {found_known:5.1f} % {false_known:5.2f}")
    print("\nOne to three sockets a limb: the change over 28 days across a fitting, and the limb since its first day")
    fitted = [cohort(limbs, seed, Knobs(days=days, sockets=3)) for seed in range(1, seeds + 1)]
    several = [_coverage(people, read(people)) for people in fitted]
    for name in ("across", "28 days", "limb", "change"):
        cells = [_show([each[f"{name} {what}"] for each in several]) for what in ("covered %", "interval score")]
        print(f"  {name:8} covered {cells[0]:>20} %   interval score {cells[1]:>16}")
    print("\nTape measurements at home by one hand: wrongly steady, found in 14 d, false alarms a year")
    taped = {"none": None, "a week": Knobs(days=days, home_tape_every=7), "a day": Knobs(days=days, home_tape_every=1)}
    for name, knobs in taped.items():
        some = [
            cohort(limbs, seed, knobs) if knobs else [_untaped(p) for p in groups[seed - 1]]
            for seed in range(1, seeds + 1)
        ]
        figures = _figures([score(p, read_days(p)) for p in some], ("wrongly steady %", *ALARM_FIGURES))
        print(f"  {name:8} {figures[0]:5.1f} %   {figures[1]:5.1f} %   {figures[2]:5.2f}")
    _learning_table(limbs // 2, days, seeds, {"as at large": Knobs()} if quick else SHIFTED)
    _good_fit_tables(limbs, days, seeds, {"first": Knobs()} if quick else COHORTS)
    if quick:
        return 0
    print("\nThe same figures on other cohorts; the engine's numbers were set on the first two")
    _table({name: _scores(limbs // 2, days, seeds, knobs) for name, knobs in COHORTS.items()})
    print("\nFound in 14 d at 0.5 false alarms a year by an observer who knows each limb's wobble and trend, seed 1")
    for what, level_sd, rate_sd in (
        ("level known, too", 1e-3, 1e-6),
        ("level unknown", 1.0, 1e-6),
        ("level and rate unknown", 1.0, 0.02),
    ):
        shares = [
            share_found(groups[0], _explains, FOUND_DAYS, 0.5, noise=noise, level_sd=level_sd, rate_sd=rate_sd)
            for noise in OBSERVER_NOISE
        ]
        print(
            f"  {what:24}"
            + "".join(f"  need to {n:4.2f} mm: {s:4.0f} %" for n, s in zip(OBSERVER_NOISE, shares, strict=True))
        )
    print("\nThe generator's parameters moved, engine unchanged (one seed each)")
    moved = {
        "own socks 20 % off": Knobs(days=days, own_socks=0.2),
        "sock 30 % thinner": Knobs(days=days, thickness=0.7),
        "sock 30 % thicker": Knobs(days=days, thickness=1.3),
        "twice the wobble": Knobs(days=days, wobble=2.0),
        "all blends": Knobs(days=days, blends=1.0),
        "perfect logging": Knobs(days=days, missing=0.02),
        "unsure choices": Knobs(days=days, choice=0.3),
    }
    results, own_socks = {}, {}
    for name, knobs in moved.items():
        people = cohort(limbs, 1, knobs)
        said_moved = read(people)
        results[name] = [score(people, said_moved)]
        if knobs.thickness != 1.0:
            # What the margin means to the wearer: one thin sock of their own, not so many mm.
            own = score(people, said_moved, margin=MARGIN * knobs.thickness)
            own_socks[name] = (own["wrongly steady %"], own["delay, settling d"], own["steady days called %"])
    _table(results)
    for name, (wrong, delay, called) in own_socks.items():
        print(
            f"{name}, margin one thin sock of their own: wrongly {wrong:.1f} %, "
            f"delay {delay:.0f} d, called {called:.0f} %"
        )
    return 0


def _scores(limbs: int, days: int, seeds: int, knobs: Knobs) -> list[dict[str, float]]:
    groups = [cohort(limbs, 100 + seed, replace(knobs, days=days)) for seed in range(1, seeds + 1)]
    return [score(people, read(people)) for people in groups]


def _learning_table(limbs: int, days: int, seeds: int, cohorts: Mapping[str, Knobs]) -> None:
    """What is learnt from some limbs of a clinic, judged on other limbs of it; as shipped, then learnt."""
    print(f"\nLearnt from {limbs} past limbs of the same clinic, without truth; figures of other limbs of it")
    names = (*STEADY_FIGURES, "steady days called %", *ALARM_FIGURES)
    print(f"  {'':36}" + "".join(f"{name:>22}" for name in names))
    for what, knobs in cohorts.items():
        knobs = replace(knobs, days=days)
        found = learnt([p.history for p in cohort(max(limbs, LEAST_LIMBS), 900, knobs)])
        groups = [cohort(limbs, 200 + seed, knobs) for seed in range(1, seeds + 1)]
        for how, bank in (("as shipped", BANK), ("learnt", bank_of(found.population if found else None))):
            figures = _figures([score(p, read_days(p, bank=bank)) for p in groups], names)
            print(f"  {what:20} {how:15}" + "".join(f"{one:22.2f}" for one in figures))


def _good_fit_tables(limbs: int, days: int, seeds: int, cohorts: Mapping[str, Knobs]) -> None:
    """Mean days of good fit of the first year by rule, for each cohort and band; difference to the oracle below."""
    for band in good_fit.BANDS:
        print(
            f"\nDays of good fit of the first year (limb within {band} mm of what the socket was made for), "
            "late settlers"
        )
        columns: dict[str, list[dict[str, float]]] = {}
        for name, knobs in cohorts.items():
            columns[name] = []
            for seed in range(1, seeds + 1):
                people = [p for p in cohort(limbs, 100 + seed, replace(knobs, days=days)) if good_fit.settles_late(p)]
                columns[name].append(_good_fit(people, band))
        _table(columns)


def _good_fit(people: Sequence[Simulated], band: float) -> dict[str, float]:
    said = said_by_engine(people, band)
    found = good_fit.figures(people, said, good_fit.rules(lambda p: rule_of_thumb(p, 0.0).steady), band)
    ours, oracle = found["engine: its best day"], found["oracle"]
    return found | {
        "engine lost to the oracle": oracle - ours,
        "engine over fixed day 120": ours - found["fixed day 120"],
    }


def said_by_engine(people: Sequence[Simulated], band: float) -> list[good_fit.Said]:
    """What the engine said day by day of each limb's log, each up to its own last day."""
    steady = [reading.steady for reading in read_days(people)]
    last = max(_day(p, p.days) for p in people)
    by_day = good_fit_by_day([p.history for p in people], last, Aim(band=band))
    said = []
    for person, days, one in zip(people, by_day, steady, strict=True):
        best, now, first, second = days[: person.days + 1].T
        said.append(good_fit.Said(best, now, first, second, one))
    return said


def read(people: Sequence[Simulated]) -> list[Reading]:
    """The whole line, as `plytide assess` would answer for every day of the log."""
    readings = []
    for at in range(0, len(people), BATCH):
        some = people[at : at + BATCH]
        dates = [[_day(p, d) for d in range(p.days + 1)] for p in some]
        answers = assess_caseload([p.history for p in some], dates)
        readings += [_reading(p, row) for p, row in zip(some, answers, strict=True)]
    return readings


def _untaped(person: Simulated) -> Simulated:
    return replace(person, history=replace(person.history, measurements=()))


def _day(person: Simulated, day: int) -> date:
    return person.history.sockets[0].fitted_on + timedelta(days=day)


def _reading(person: Simulated, row: Sequence[Assessment]) -> Reading:
    seen: dict[tuple[str, object], int] = {}
    for day, said in enumerate(row):
        for signal in said.signals:
            if signal.kind in ("volume-loss", "volume-gain"):
                seen.setdefault((signal.kind, signal.since), day)
    weekly = range(14, person.days + 1, 7)
    change = {d: e for d in weekly if (e := row[d].change_pct) and row[d].coming_28d_pct}
    coming = {d: e for d in weekly if (e := row[d].coming_28d_pct)}
    settles = None
    at = row[60].settles_on if person.days >= 60 else None
    if at is not None:
        start = person.history.sockets[0].fitted_on
        settles = ((at.date - start).days, (at.low - start).days, (at.high - start).days if at.high else None)
    return Reading(
        steady=np.array([said.state == "steady" for said in row]),
        speaks=np.array([said.state not in ("due", "held") for said in row]),
        alarms=[(day, kind) for (kind, _), day in seen.items()],
        change={d: (e.value, e.low, e.high) for d, e in change.items()},
        coming={d: (e.value, e.low, e.high) for d, e in coming.items()},
        lately={d: (e.value, e.low, e.high) for d in weekly if (e := row[d].change_28d_pct)},
        limb={d: (e.value, e.low, e.high) for d in change if (e := row[d].limb_change_pct)},
        settles=settles,
    )


def read_days(
    people: Sequence[Simulated],
    constants: Constants = CONSTANTS,
    oracle: bool = False,
    tuning: Tuning | None = None,
    bank: Bank = BANK,
) -> list[Reading]:
    """The volume part of the line alone. As an oracle the same engine hears the true need of each answer's
    moment, wobble and all, to 0.05 mm."""
    truth = {p.history.limb.id: p for p in people}

    def true_answers(histories: Sequence[LimbHistory], answers: Answers) -> Answers:
        needs = np.stack([truth[h.limb.id].needs for h in histories])
        heard = answers.slot != TAPE
        need = needs[answers.limb, answers.day, np.where(heard, answers.slot, 0)]
        return replace(
            answers,
            low=np.where(heard, need - 0.03, answers.low),
            high=np.where(heard, need + 0.03, answers.high),
            soft=np.where(heard, 0.05, answers.soft),
            lapse=np.where(heard, 0.002, answers.lapse),
        )

    last = max(_day(p, p.days) for p in people)
    found = volume_by_day([p.history for p in people], last, constants, true_answers if oracle else None, tuning, bank)
    readings = []
    for person, each in zip(people, found, strict=True):
        steady = each.steady[: person.days + 1]
        alarms = [(a.day, "volume-loss" if a.size > 0 else "volume-gain") for a in each.alarms if a.day <= person.days]
        readings.append(Reading(steady, np.ones(len(steady), np.bool_), alarms))
    return readings


LAWS = {
    "settling-exp": make_bank(laws=tuple((settling.EXPONENTIAL, tau, 1.0) for tau in (12.0, 22.0, 40.0, 75.0))),
    "settling-log": make_bank(laws=((settling.LOG_TIME, 1.0, 1.0),)),
}


def told_the_law(groups: Sequence[Sequence[Simulated]], constants: Constants, oracle: bool) -> dict[str, float]:
    """The score of all settling limbs, each read by a bank of its own law only."""
    people: list[Simulated] = []
    said: list[Reading] = []
    for trend, bank in LAWS.items():
        for some in ([p for p in group if p.truth.trend == trend] for group in groups):
            people += some
            said += read_days(some, constants, oracle, bank=bank)
    return score(people, said)


def _stacks(person: Simulated) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    start = person.history.sockets[0].fitted_on
    checkins = person.history.checkins
    days = np.array([(c.date - start).days for c in checkins], np.int64)
    return days, np.array([stack_thickness(c.stack)[0] for c in checkins])


def rule_of_thumb(person: Simulated, allowed_mm: float) -> Reading:
    """Steady when the stack of the last 14 days differs by no more; sudden when it moved 1.2 mm in a week."""
    days, worn = _stacks(person)
    steady = np.zeros(person.days + 1, np.bool_)
    alarms: list[tuple[int, str]] = []
    for day in range(person.days + 1):
        recent = worn[(days <= day) & (days > day - 14)]
        if day >= 13 and len(recent) >= 5:
            steady[day] = recent.max() - recent.min() <= allowed_mm + 1e-6
        today, week = worn[days == day], worn[(days < day) & (days >= day - 7)]
        if len(today) and len(week) and (not alarms or day - alarms[-1][0] > 14):
            if today[-1] - week.min() >= 1.2 - 1e-6:
                alarms.append((day, "volume-loss"))
            elif week.max() - today[-1] >= 1.2 - 1e-6:
                alarms.append((day, "volume-gain"))
    return Reading(steady, np.ones(person.days + 1, np.bool_), alarms)


def explained(truth: Truth, day: int, kind: str) -> bool:
    """Whether a step of the same direction lies in the days before."""
    if truth.step_day is None or (kind == "volume-loss") != (truth.step_mm > 0):
        return False
    return truth.step_day <= day <= truth.step_day + EXPLAINED_DAYS


def _explains(person: Simulated, day: int, kind: str) -> bool:
    return explained(person.truth, day, kind)


def _figures(scores: Sequence[dict[str, float]], names: Sequence[str]) -> list[float]:
    return [float(np.mean([each[name] for each in scores])) for name in names]


def score(people: Sequence[Simulated], readings: Sequence[Reading], margin: float = MARGIN) -> dict[str, float]:
    """All figures of one cohort; NaN where nothing was said."""
    wrongly: list[bool] = []
    delays: list[int] = []
    delays_steady: list[int] = []
    called = possible = alarms = 0
    found: list[int] = []
    day_error: list[float] = []
    day_signed: list[float] = []
    day_in: list[bool] = []
    asked = 0
    for person, said in zip(people, readings, strict=True):
        truth, days = person.truth, person.days + 1
        coming = truth.smooth_coming_mm()
        within = np.abs(coming[:days]) <= margin
        called += int(np.sum(said.steady & within & said.speaks))
        possible += int(np.sum(within & said.speaks))
        first = np.flatnonzero(within)
        if truth.trend.startswith("settling") and not within[0]:
            wrongly.append(bool(np.any(said.steady & ~within)))
            if len(first) and first[0] <= person.days - 14:
                delays.append(_first(said.steady[first[0] :]))
            settled = np.flatnonzero(np.abs(coming) <= margin)
            if len(settled) and settled[0] > 60:
                asked += 1
                if said.settles is not None:
                    middle, low, high = said.settles
                    day_error.append(abs(middle - int(settled[0])))
                    day_signed.append(middle - int(settled[0]))
                    day_in.append(low <= settled[0] and (high is None or settled[0] <= high))
        elif truth.trend == "steady":
            delays_steady.append(_first(said.steady))
        right = [
            day - truth.step_day
            for day, kind in said.alarms
            if truth.step_day is not None and explained(truth, day, kind)
        ]
        alarms += sum(not explained(truth, day, kind) for day, kind in said.alarms)
        if truth.step_day is not None:
            found.append(min(right, default=NEVER))
    years = sum(p.days + 1 for p in people) / 365.25
    out = {
        "wrongly steady %": 100 * _mean(wrongly),
        "delay, settling d": _median(delays),
        "delay, steady d": _median(delays_steady),
        "steady days called %": 100 * called / max(possible, 1),
        f"found in {FOUND_DAYS} d %": 100 * _mean([f <= FOUND_DAYS for f in found]),
        "delay, found d": _median(found),
        "false alarms a year": alarms / years,
        "settling day error d": _median(day_error),
        "settling day signed d": _median(day_signed),
        "settling day covered %": 100 * _mean(day_in),
        "settling day said %": 100 * len(day_error) / asked if asked else float("nan"),
    }
    return out | _coverage(people, readings)


def _coverage(people: Sequence[Simulated], readings: Sequence[Reading]) -> dict[str, float]:
    change, coming, lately, across, limb = [], [], [], [], []
    for person, said in zip(people, readings, strict=True):
        for day, estimate in said.lately.items():
            row = (*estimate, pct(person.truth, person.truth.between_mm(day - 28, day)))
            lately.append(row)
            if person.truth.across(day - 28, day):
                across.append(row)
        for day, estimate in said.limb.items():
            limb.append((*estimate, pct(person.truth, person.truth.between_mm(0, day))))
        ahead = person.truth.smooth_coming_mm()
        for day, estimate in said.change.items():
            change.append((*estimate, pct(person.truth, person.truth.change_mm(day))))
        for day, estimate in said.coming.items():
            now = person.truth.change_mm(day)
            coming.append((*estimate, pct(person.truth, now + float(ahead[day])) - pct(person.truth, now)))
    out = {}
    told = {"change": change, "coming": coming, "28 days": lately, "limb": limb}
    if across:
        told["across"] = across
    for name, rows in told.items():
        value, low, high, truth = np.array(rows, float).reshape(-1, 4).T
        nothing = not len(rows)
        out[f"{name} covered %"] = float("nan") if nothing else 100 * coverage(low, high, truth)
        out[f"{name} interval score"] = float("nan") if nothing else interval_score(low, high, truth)
        sd = (high - low) / (2 * 1.6448536) + 1e-9
        out[f"{name} CRPS"] = float("nan") if nothing else crps_normal(value, sd, truth)
    return out


def pct(truth: Truth, mm: float) -> float:
    return ((1 - mm / truth.radius_mm) ** 2 - 1) * 100


def _first(flags: Flags) -> int:
    at = np.flatnonzero(flags)
    return int(at[0]) if len(at) else NEVER


def _mean(values: Sequence[bool]) -> float:
    return float(np.mean(values)) if len(values) else float("nan")


def _median(values: Sequence[float]) -> float:
    return float(np.median(values)) if len(values) else float("nan")


def _show(values: Sequence[float]) -> str:
    known = [v for v in values if not np.isnan(v)]
    if not known:
        return "-"
    middle = float(np.mean(known))
    text = "never" if middle >= NEVER / 2 else f"{middle:.2f}" if middle < 10 else f"{middle:.1f}"
    if len(known) > 1 and middle < NEVER / 2:
        text += f" ({min(known):.1f}-{max(known):.1f})"
    return text


GOALS = {
    "wrongly steady %": "<= 3",
    "delay, settling d": "<= 14",
    "steady days called %": ">= 85",
    f"found in {FOUND_DAYS} d %": ">= 80",
    "delay, found d": "<= 6",
    "false alarms a year": "<= 0.5",
    "change covered %": "88-92",
    "coming covered %": "88-92",
    "28 days covered %": "88-92",
    "across covered %": "88-92",
    "settling day error d": "<= 20",
    "settling day signed d": "+-5",
    "engine lost to the oracle": "<= 38",
    "engine over fixed day 120": "> 0",
    "settling day covered %": "88-92",
}


def _table(columns: dict[str, list[dict[str, float]]]) -> None:
    width = 20
    print(f"{'':28}{'to reach':10}" + "".join(f"{name:>{width}}" for name in columns))
    for figure in next(iter(columns.values()))[0]:
        cells = [_show([each[figure] for each in scores]) for scores in columns.values()]
        print(f"{figure:28}{GOALS.get(figure, ''):10}" + "".join(f"{cell:>{width}}" for cell in cells))


def _by_kind(groups: Sequence[Sequence[Simulated]], readings: Sequence[Sequence[Reading]]) -> None:
    pairs = [pair for people, said in zip(groups, readings, strict=True) for pair in zip(people, said, strict=True)]
    kinds = {f"trend {t}": [x for x in pairs if x[0].truth.trend == t] for t in TRENDS}
    kinds |= {f"habit {h}": [x for x in pairs if x[0].truth.habit == h] for h in HABITS}
    kinds["missing over 40 %"] = [x for x in pairs if x[0].truth.missing > 0.4]
    for name, some in kinds.items():
        if some:
            one = score([p for p, _ in some], [r for _, r in some])
            print(
                f"  {name:24} {len(some):5} limbs  {one['steady days called %']:6.1f} {one['false alarms a year']:6.2f}"
                f" {one['change covered %']:8.1f} {one['coming covered %']:6.1f}"
            )
