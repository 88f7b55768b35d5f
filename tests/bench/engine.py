"""Engine: limbs a second at 1k, 10k and 30k limbs, one limb after a sync, a replay, and statsmodels beside it."""

from __future__ import annotations

import argparse
import os
import statistics
import time
import warnings
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from plytide.engine.assess import assess, assess_caseload
from plytide.engine.core import trend
from plytide.engine.core.bank import Answers, Limbs, Starts, Told, Tuning, make_bank
from plytide.engine.series import series_of
from plytide.engine.volume import assess_volume
from plytide.model import LimbHistory
from seed_demo.cohort import Knobs, cohort
from tests.bench import step

DAYS = 120
MADE = 400  # limbs simulated; larger caseloads repeat them under other names
PART = 500
CLOCK = time.process_time  # of one process at work: the rest of the machine does not count


def caseload(size: int) -> tuple[list[LimbHistory], list[list[date]]]:
    people = cohort(min(size, MADE), 1, Knobs(days=DAYS))
    histories, dates = [], []
    for i in range(size):
        history = people[i % len(people)].history
        histories.append(replace(history, limb=replace(history.limb, id=f"{history.limb.id}-{i}")))
        dates.append([history.sockets[0].fitted_on + timedelta(days=DAYS)])
    return histories, dates


def timed_part(part: tuple[list[LimbHistory], list[list[date]]]) -> tuple[int, float]:
    """(limbs assessed, processor seconds)."""
    start = time.process_time()
    return len(assess_caseload(*part)), time.process_time() - start


def seconds_for(size: int, processes: int) -> tuple[float, float]:
    """Wall seconds of a caseload assessed once on so many processes, and processor seconds of the assessing.

    On a machine that does other work, too, only the second can be compared.
    """
    histories, dates = caseload(size)
    parts = [(histories[at : at + PART], dates[at : at + PART]) for at in range(0, size, PART)]
    with ProcessPoolExecutor(processes) as pool:
        list(pool.map(timed_part, [(histories[:2], dates[:2])] * processes))  # started, modules read
        start = time.perf_counter()
        done = list(pool.map(timed_part, parts))
        wall = time.perf_counter() - start
    assert sum(limbs for limbs, _ in done) == size
    return wall, sum(took for _, took in done)


def one_limb(dates_asked: int) -> float:
    """Median processor milliseconds of `assess` for one limb."""
    took = []
    for person in cohort(12, 2, Knobs(days=DAYS)):
        start_day = person.history.sockets[0].fitted_on
        dates = [start_day + timedelta(days=DAYS - k) for k in range(dates_asked)]
        start = CLOCK()
        assess(person.history, dates)
        took.append(1000 * (CLOCK() - start))
    return statistics.median(took)


def beside_statsmodels(limbs: int) -> None:
    """The same daily stacks through UnobservedComponents: local linear trend with an AR(1) and noise."""
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    people = cohort(limbs, 3, Knobs(days=DAYS))
    smooth, fit = [], []
    for person in people:
        series = series_of(person.history)
        y = np.full(DAYS + 1, np.nan)
        y[series.day - series.first_day] = series.fill
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = UnobservedComponents(y, "lltrend", autoregressive=1)
            start = CLOCK()
            model.smooth([0.04, 1e-5, 1e-6, 0.03, 0.5])
            smooth.append(CLOCK() - start)
            if len(fit) < 5:
                start = CLOCK()
                model.fit(disp=False, maxiter=200)
                fit.append(CLOCK() - start)
    histories, dates = caseload(MADE)
    assess_volume(histories[:50], dates[:50])
    start = CLOCK()
    assess_volume(histories, dates)
    whole = (CLOCK() - start) / MADE
    alone = one_member(4000)
    reference = statistics.median(smooth)
    print(f"statsmodels smooth, parameters given   {1000 * reference:9.2f} ms a limb")
    print(f"statsmodels fit and smooth             {1000 * statistics.median(fit):9.2f} ms a limb")
    print(f"ours, one member, filter only          {1000 * alone:9.3f} ms a limb   {reference / alone:7.0f} x faster")
    members = make_bank().size
    print(
        f"ours, {members} members, all of the volume   {1000 * whole:9.3f} ms a limb   "
        f"{reference / whole:7.1f} x faster; a member {members * reference / whole:.0f} x; "
        f"than fit and smooth {statistics.median(fit) / whole:.0f} x"
    )


def one_member(limbs: int) -> float:
    """Seconds a limb of the filter with one member, as statsmodels has, on daily answers with gaps."""
    rng = np.random.default_rng(1)
    bank = make_bank(laws=((2, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,))
    told = rng.random((DAYS + 1, limbs)) < 0.65
    day, limb = np.nonzero(told)
    low = rng.normal(1.0, 0.3, len(day))
    flat = np.zeros(limbs)
    none = np.zeros(0, np.int64)
    answers = Answers(limb, day, np.zeros_like(day), low - 0.35, low + 0.35, np.full(len(day), 0.2), flat[:1] + 0 * low)
    starts = Starts(np.arange(limbs), np.zeros(limbs, np.int64), flat + 1.0, flat + 0.4, none, none, np.zeros(0))
    known = Limbs(flat + 90.0, flat, flat + 0.4, flat, np.zeros(limbs, np.int64), flat, flat + 1.0)
    start = CLOCK()
    for at in range(0, limbs, 1000):
        mine = (limb >= at) & (limb < at + 1000)
        some = Answers(*(getattr(answers, f)[mine] - (at if f == "limb" else 0) for f in Answers.__slots__))
        part = slice(at, at + 1000)
        few = Limbs(*(getattr(known, f)[part] for f in Limbs.__slots__))
        begun = replace(
            starts, limb=starts.limb[part] - at, day=starts.day[part], mean=starts.mean[part], sd=starts.sd[part]
        )
        trend.run_bank(bank, Told(few, begun, some), DAYS + 1, Tuning(alarm=50.0))
    return (CLOCK() - start) / limbs


def main(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="engine")
    parser.add_argument("--sizes", default="1000,10000,30000")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--reference-limbs", type=int, default=30)
    parser.add_argument("--quick", action="store_true", help="1,000 limbs only")
    given = parser.parse_args(argv)
    if given.quick:
        given.sizes, given.reference_limbs = "1000", 5
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    step("one limb")
    print(f"one limb after a sync, one date        {one_limb(1):9.1f} ms (to reach: 50)")
    print(f"one limb, a replay of 100 dates        {one_limb(100):9.1f} ms")
    step("beside statsmodels")
    beside_statsmodels(given.reference_limbs)
    for size in (int(each) for each in given.sizes.split(",")):
        step(f"{size:,} limbs")
        took, busy = seconds_for(size, given.processes)
        goal = " (to reach: 60 s)" if size == 10_000 else ""
        print(
            f"{size:6} limbs x {DAYS} days, {given.processes} processes {took:9.1f} s{goal}"
            f"   processor {busy:.1f} s, {1000 * busy / size:.2f} ms a limb"
        )
    return 0
