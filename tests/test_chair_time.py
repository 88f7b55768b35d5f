"""Recasts a week: exact on small cases, and its interval holds on simulated caseloads."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product

import numpy as np
import pytest

from plytide.chair_time import Forecast, chair_time, counts, interval, settled_by, week_chances

MONDAY = date(2025, 9, 15)
SETTLES = (date(2025, 10, 6), date(2025, 9, 22), date(2025, 11, 3))


def test_counts_are_exact() -> None:
    """Against all 2^4 outcomes, one by one."""
    chances = np.array([0.1, 0.5, 0.9, 0.25])
    expected = np.zeros(5)
    for outcome in product((0, 1), repeat=4):
        expected[sum(outcome)] += np.prod([p if hit else 1 - p for p, hit in zip(chances, outcome, strict=True)])
    assert counts(chances) == pytest.approx(expected, abs=1e-12)


def test_no_limbs_need_no_time() -> None:
    weeks = chair_time([], MONDAY)
    assert [(week.expected, week.low, week.high) for week in weeks] == [(0, 0, 0)] * 8


def test_the_forecasts_interval_is_met() -> None:
    middle, low, high = SETTLES
    assert settled_by(middle, SETTLES) == 0.5
    assert settled_by(low, SETTLES) == pytest.approx(0.05, abs=0.005)
    assert high and settled_by(high, SETTLES) == pytest.approx(0.95, abs=0.005)
    assert settled_by(middle + timedelta(days=3000), (middle, low, None)) == pytest.approx(0.75, abs=0.01)


def test_a_planned_day_is_certain_and_an_overdue_one_is_this_week() -> None:
    planned = week_chances(Forecast("a", "steady", True, planned_on=MONDAY + timedelta(days=17)), MONDAY)
    assert planned.tolist() == [0, 0, 1, 0, 0, 0, 0, 0]
    overdue = week_chances(Forecast("a", "steady", True, planned_on=MONDAY - timedelta(days=3)), MONDAY)
    assert overdue.tolist() == [1, 0, 0, 0, 0, 0, 0, 0]
    assert week_chances(Forecast("a", "due", True, planned_on=MONDAY + timedelta(days=90)), MONDAY).sum() == 0


def test_what_is_due_is_booked_within_a_month_and_what_is_held_is_not() -> None:
    assert week_chances(Forecast("a", "due", False), MONDAY)[:4].sum() == pytest.approx(1)
    assert week_chances(Forecast("a", "held", True, settles=SETTLES), MONDAY).sum() == 0


def test_no_limb_is_counted_more_than_once() -> None:
    for state in ("gathering", "changing", "settling", "steady", "due", "held"):
        for provisional in (True, False):
            for settles in (None, SETTLES, (SETTLES[0], SETTLES[1], None)):
                chances = week_chances(Forecast("a", state, provisional, settles=settles), MONDAY)
                assert chances.min() >= 0 and chances.sum() <= 1 + 1e-9


def test_ninety_percent_intervals_hold_on_simulated_caseloads() -> None:
    """400 caseloads of 40 limbs whose true weeks are drawn from skewed settling days, booked as a clinic books.

    Counts are whole numbers, so an interval holds a little more than its name; it must not hold less.
    """
    rng = np.random.default_rng(7)
    hits = total = 0
    for _ in range(400):
        limbs, weeks = [], np.zeros(8, int)
        for n in range(40):
            ahead, down, up = rng.uniform(5, 60), rng.uniform(5, 25), rng.uniform(10, 60)
            middle = MONDAY + timedelta(days=round(ahead))
            settles = (middle, middle - timedelta(days=round(down)), middle + timedelta(days=round(up)))
            limbs.append(Forecast(str(n), "settling", True, settles=settles))
            z = rng.standard_normal()
            day = (middle - MONDAY).days + z * (round(down) if z < 0 else round(up)) / 1.645
            week = max(int(day // 7), 0) + rng.choice(4, p=(0.35, 0.3, 0.2, 0.15))
            if week < 8:
                weeks[week] += 1
        for week, said in zip(weeks, chair_time(limbs, MONDAY), strict=True):
            hits += said.low <= week <= said.high
            total += 1
    assert 0.89 <= hits / total <= 0.98


def test_the_interval_of_a_coin_is_both_sides() -> None:
    assert interval(np.array([0.5, 0.5])) == (0, 1)
    assert interval(np.array([0.0, 1.0])) == (1, 1)
