"""Recasts a week: exact on small cases, and its interval holds on simulated caseloads."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product
from typing import Any

import numpy as np
import pytest

from plytide.engine.chair_time import (
    BOOKED,
    DUE_IN_TIME,
    LATE_A_WEEK,
    LEFT_A_WEEK,
    READY_IN_TIME,
    USUAL_A_WEEK,
    Forecast,
    chair_time,
    counted,
    counts,
    delay,
    interval,
    settled_by,
)

MONDAY = date(2025, 9, 15)
SETTLES = (date(2025, 10, 6), date(2025, 9, 22), date(2025, 11, 3))


def week_chances(limb: Forecast, monday: date) -> Any:
    return counted(limb, monday, 8)[0]


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


def test_what_is_due_is_mostly_booked_within_a_month_and_what_is_held_is_not() -> None:
    assert week_chances(Forecast("a", "due", False), MONDAY)[:4].sum() == pytest.approx(DUE_IN_TIME)
    assert week_chances(Forecast("a", "held", True, settles=SETTLES), MONDAY).sum() == 0


def test_a_diagnostic_sockets_clock_has_its_place_and_a_missed_one_is_booked_from_now() -> None:
    span = (MONDAY + timedelta(days=11), MONDAY + timedelta(days=18))  # three days of one week, five of the next
    ahead = Forecast("a", "gathering", True, remake=span)
    assert week_chances(ahead, MONDAY).tolist() == [0, 3 / 8, 5 / 8, 0, 0, 0, 0, 0]
    missed = Forecast(
        "a", "changing", True, settles=SETTLES, remake=(MONDAY - timedelta(days=9), MONDAY - timedelta(days=2))
    )
    assert week_chances(missed, MONDAY) == pytest.approx(delay(8, DUE_IN_TIME, LATE_A_WEEK))
    long_missed = Forecast("a", "due", True, remake=(MONDAY - timedelta(days=90), MONDAY - timedelta(days=83)))
    assert week_chances(long_missed, MONDAY)[0] == pytest.approx(LATE_A_WEEK)
    assert week_chances(Forecast("a", "held", True, remake=span), MONDAY).sum() == 0


def test_a_planned_diagnostic_socket_takes_two_places() -> None:
    two = Forecast(
        "a", "due", False, planned_on=MONDAY, remake=(MONDAY + timedelta(days=14), MONDAY + timedelta(days=21))
    )
    assert week_chances(two, MONDAY).tolist() == [1, 0, 7 / 8, 1 / 8, 0, 0, 0, 0]


def test_what_was_due_for_long_and_not_booked_is_not_booked_at_once() -> None:
    """Before: a limb due for half a year had 35 in 100 for this week, like one that is due since yesterday."""
    fresh, weeks_ago = (
        Forecast("a", "due", False, since=MONDAY),
        Forecast("a", "due", False, since=MONDAY - timedelta(days=17)),
    )
    assert week_chances(fresh, MONDAY)[:2] == pytest.approx([0.75 * 0.35, 0.75 * 0.3])
    assert week_chances(weeks_ago, MONDAY)[0] == pytest.approx(0.75 * 0.2 / (1 - 0.75 * 0.65))
    long_due = week_chances(Forecast("a", "due", False, since=MONDAY - timedelta(days=180)), MONDAY)
    assert long_due[:2] == pytest.approx([LATE_A_WEEK, LATE_A_WEEK * (1 - LATE_A_WEEK)])


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"planned_on": MONDAY}, "planned"),
        ({"decided_on": MONDAY}, "decided"),
        ({"remake": (MONDAY, MONDAY)}, "remake"),
        ({"state": "due", "why": "The stack is 15 ply."}, "due"),
        ({"state": "settling", "provisional": True, "settles": SETTLES}, "forecast"),
        ({"provisional": True}, "ready"),
        ({}, ""),
        ({"state": "gathering"}, ""),
        ({"state": "changing"}, ""),
        ({"state": "held"}, ""),
    ],
)
def test_each_limb_that_is_counted_says_why_and_the_others_have_the_usual_rate(more: dict[str, Any], code: str) -> None:
    plain: dict[str, Any] = {"limb_id": "a", "state": "steady", "provisional": False}
    chances, said, words = counted(Forecast(**{**plain, **more}), MONDAY)
    assert said == code and bool(words) is bool(code)
    if not code and more.get("state") != "held":
        assert chances == pytest.approx([USUAL_A_WEEK] * 8)


def test_quiet_limbs_are_not_named_and_are_counted_together() -> None:
    limbs = [Forecast(str(n), "steady", False) for n in range(78)] + [Forecast("d", "due", False, why="Outgrown.")]
    week = chair_time(limbs, MONDAY)[0]
    assert [(one.limb_id, one.code, one.words) for one in week.named] == [("d", "due", "Outgrown.")]
    assert (week.quiet_limbs, round(week.quiet_expected, 2)) == (78, 0.5)
    assert week.expected == pytest.approx(0.5 + 0.75 * 0.35)


def test_to_wait_until_a_day_moves_what_is_counted_behind_it() -> None:
    due = Forecast("a", "due", False, not_before=MONDAY + timedelta(days=21))
    chances, _, words = counted(due, MONDAY)
    assert chances == pytest.approx([0, 0, 0, *delay(5, DUE_IN_TIME, LATE_A_WEEK)])
    assert "Decided to wait until 6 October." in words


def test_no_limb_is_counted_more_than_once() -> None:
    for state in ("gathering", "changing", "settling", "steady", "due", "held"):
        for provisional in (True, False):
            for settles in (None, SETTLES, (SETTLES[0], SETTLES[1], None)):
                chances = week_chances(Forecast("a", state, provisional, settles=settles), MONDAY)
                assert chances.min() >= 0 and chances.sum() <= 1 + 1e-9


def weeks_later(rng: np.random.Generator, in_time: float, late: float, gone: int = 0) -> int:
    """When a limb that became ready `gone` weeks ago is recast, in weeks from now: drawn anew until it is not past."""
    while True:
        week = int(rng.choice(4, p=BOOKED)) if rng.random() < in_time else 3 + int(rng.geometric(late))
        if week >= gone:
            return week - gone


def settling_limb(n: int, rng: np.random.Generator) -> tuple[Forecast, int]:
    ahead, down, up = rng.uniform(5, 60), rng.uniform(5, 25), rng.uniform(10, 60)
    middle = MONDAY + timedelta(days=round(ahead))
    settles = (middle, middle - timedelta(days=round(down)), middle + timedelta(days=round(up)))
    z = rng.standard_normal()
    day = (middle - MONDAY).days + z * (round(down) if z < 0 else round(up)) / 1.645
    week = max(int(day // 7), 0) + weeks_later(rng, READY_IN_TIME, LEFT_A_WEEK)
    return Forecast(str(n), "settling", True, settles=settles), week


def remade_limb(n: int, rng: np.random.Generator) -> tuple[Forecast, int]:
    """A diagnostic socket fitted up to three weeks ago, made again on a day of its third week, if not done before."""
    fitted = -int(rng.integers(0, 14))
    span = (MONDAY + timedelta(days=fitted + 14), MONDAY + timedelta(days=fitted + 21))
    day = fitted + int(rng.integers(14, 22))
    return Forecast(str(n), rng.choice(["gathering", "changing", "settling"]), True, remake=span), day // 7


def overdue_limb(n: int, rng: np.random.Generator) -> tuple[Forecast, int]:
    """Due, or a date missed, some weeks ago and not yet done."""
    gone = int(rng.integers(1, 9))
    since = MONDAY - timedelta(days=7 * gone)
    week = weeks_later(rng, DUE_IN_TIME, LATE_A_WEEK, gone)
    if rng.random() < 0.5:
        return Forecast(str(n), "due", False, since=since, why="Due."), week
    return Forecast(str(n), "changing", True, remake=(since - timedelta(days=7), since)), week


def ready_limb(n: int, rng: np.random.Generator) -> tuple[Forecast, int]:
    gone = int(rng.integers(0, 30))
    ready = Forecast(str(n), "steady", True, since=MONDAY - timedelta(days=7 * gone))
    return ready, weeks_later(rng, READY_IN_TIME, LEFT_A_WEEK, gone) if gone < 4 else int(
        rng.geometric(LEFT_A_WEEK)
    ) - 1


def quiet_limb(n: int, rng: np.random.Generator) -> tuple[Forecast, int]:
    """One in three a year, on any day of it."""
    return Forecast(str(n), rng.choice(["steady", "gathering"]), False), int(rng.geometric(USUAL_A_WEEK)) - 1


@pytest.mark.parametrize(
    "mix",
    [
        {settling_limb: 40},
        {remade_limb: 25, quiet_limb: 60},
        {settling_limb: 15, remade_limb: 10, overdue_limb: 10, ready_limb: 30, quiet_limb: 100},
        {quiet_limb: 200, ready_limb: 40},
    ],
    ids=["settling", "remade", "mixed", "quiet"],
)
def test_ninety_percent_intervals_hold_on_simulated_caseloads(mix: dict[Any, int]) -> None:
    """Caseloads whose limbs are drawn from their own stories: skewed settling days and delays until a visit, diagnostic
    sockets made again in their third week, some missed, provisional sockets left on, and quiet limbs at their rate.

    Counts are whole numbers, so an interval holds a little more than its name; it must not hold less.
    """
    rng, hits, total, expected, seen = np.random.default_rng(7), 0, 0, 0.0, 0
    for _ in range(100):
        drawn = [make(n, rng) for n, make in enumerate(make for make, count in mix.items() for _ in range(count))]
        weeks = np.bincount([week for _, week in drawn if week < 8], minlength=8)
        for week, said in zip(weeks, chair_time([limb for limb, _ in drawn], MONDAY), strict=True):
            hits += said.low <= week <= said.high
            total += 1
            expected += said.expected
            seen += int(week)
    assert 0.89 <= hits / total <= 0.985
    assert seen == pytest.approx(expected, rel=0.06)


def test_the_interval_of_a_coin_is_both_sides() -> None:
    assert interval(np.array([0.5, 0.5])) == (0, 1)
    assert interval(np.array([0.0, 1.0])) == (1, 1)
