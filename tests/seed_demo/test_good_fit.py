"""Days of good fit of a cast rule: counted by hand on small courses, and the oracles by trying all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from seed_demo import good_fit
from seed_demo.cohort import COHORTS, cohort
from seed_demo.good_fit import LAST_CAST, Said, best_of_one, best_of_two, counts, days_of

DAYS = np.arange(500.0)
STRAIGHT = 0.02 * DAYS  # leaves a band of 1.39 after 70 days
EASING = 5.0 * (1 - np.exp(-DAYS / 50.0))


def by_hand(level: np.ndarray, casts: tuple[int, ...], band: float) -> int:
    fits = 0
    for day in range(365):
        worn = [cast for cast in casts if day >= cast + 14]
        fits += bool(abs(level[day] - level[worn[-1] if worn else 0]) <= band)
    return fits


@pytest.mark.parametrize("casts", [(), (0,), (40,), (120,), (345,), (21, 42), (30, 200), (10, 20)])
@pytest.mark.parametrize("level", [STRAIGHT, EASING], ids=["straight", "easing"])
def test_days_are_those_counted_by_hand(level: np.ndarray, casts: tuple[int, ...]) -> None:
    assert days_of(counts(level, 1.39), casts) == by_hand(level, casts, 1.39)


def test_a_straight_loss_fits_seventy_days_a_socket() -> None:
    table = counts(STRAIGHT, 1.39)
    assert days_of(table, ()) == 70
    assert best_of_one(table) == 126  # 56 days are left of a socket when it is delivered


def test_the_oracles_are_the_best_of_all_casts() -> None:
    table = counts(EASING, 1.39)
    ones = [by_hand(EASING, (cast,), 1.39) for cast in range(0, LAST_CAST + 1)]
    assert best_of_one(table) == max(ones)
    some = [days_of(table, (a, b)) for a in range(0, LAST_CAST, 5) for b in range(a + 1, LAST_CAST + 1, 5)]
    assert best_of_two(table) >= max(some) >= best_of_one(table)
    assert best_of_two(table, 21) == max(days_of(table, (a, a + 21)) for a in range(0, LAST_CAST - 20))


def said(best: list[float], first: list[float] | None = None, second: list[float] | None = None) -> Said:
    none = np.full(len(best), np.nan)
    return Said(
        np.array(best), none, none if first is None else np.array(first),
        none if second is None else np.array(second), np.zeros(len(best), np.bool_),
    )  # fmt: skip


def test_the_engine_casts_on_the_first_day_it_calls_best_and_on_day_120_if_it_never_does() -> None:
    nan = float("nan")
    assert good_fit.cast_by_engine(said([nan, 40.0, 7.0, 0.0, 0.0])) == 3
    assert good_fit.cast_by_engine(said([nan, 40.0, 35.0])) == 120
    assert good_fit.path_by_engine(said([nan, 40.0, 21.0, 0.0])) == (2, 23)
    assert good_fit.two_by_engine(said([nan] * 4, [nan, 7.0, 0.0, 0.0], [nan, 90.0, 84.0, 56.0])) == (2, 86)


def test_the_cohorts_differ_in_what_they_are_said_to_differ_in() -> None:
    """The share of the log's whole loss that an exponential limb has lost after three weeks."""
    lost, missing = {}, {}
    for name, knobs in COHORTS.items():
        limbs = [p.truth for p in cohort(80, 3, replace(knobs, mixed=0.0)) if p.truth.trend == "settling-exp"]
        lost[name] = np.median([truth.level_mm[21] / truth.level_mm[120] for truth in limbs])
        missing[name] = np.mean([truth.missing for truth in limbs])
    assert lost["quick"] > lost["first"] > lost["slow"]
    assert missing["quick"] < missing["slow"]
