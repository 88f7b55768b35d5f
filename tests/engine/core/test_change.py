"""The watch for sudden change, on independent Gaussian answers, is the cumulative sum of the literature.

With one size of jump b and answers of unit variance, evidence = b (x - b/2): the sum from the best start day is b
times Page's C+ with k = b/2. Worked examples: Montgomery ch. 9, NIST/SEMATECH e-Handbook 6.3.2.3 (confirmed in four
public test suites). Run lengths: Brook & Evans, Biometrika 1972;59(3):539-549 (abstract seen), and Lucas & Crosier,
Technometrics 1982;24:199-205; their printed figures as the help pages of R's spc quote them, the tables not seen.
"""

from __future__ import annotations

import numpy as np
import pytest

from plytide.engine.core import trend
from plytide.engine.core.bank import Told, Tuning, make_bank
from plytide.engine.core.change import Watch, alarm_level, bar
from tests.engine.core.published import table


def sums(x: np.ndarray, jump: float, window: int) -> np.ndarray:
    """C of the best start day after each time, limbs x times, for x of unit variance around 0."""
    limbs, times = x.shape
    watch = Watch(limbs, 1, Tuning(jumps=(jump,), window=window))
    who, seen = np.arange(limbs), np.ones((1, limbs))
    out = np.empty((limbs, times))
    for t in range(times):
        watch.begin(who, t, np.zeros(limbs))
        half, none = np.full(limbs, 0.005), np.zeros(limbs)
        answer = (x[:, t] - half, x[:, t] + half, np.ones(limbs), none)
        watch.weigh(who, seen, np.zeros((1, limbs)), none, none + 1e-9, answer)
        out[:, t] = watch.total.max(axis=1)
    return out


def upper(x: np.ndarray, jump: float, window: int = 60) -> np.ndarray:
    return np.maximum(sums(x, jump, window) / abs(jump), 0.0)


def test_montgomerys_table() -> None:
    book = table("control_chart_examples.json")["montgomery"]
    x = (np.array(book["x"]) - book["mu0"]) / book["sigma"]
    ours = upper(x[None], 2 * book["k"])[0]
    assert ours[:29] == pytest.approx(book["C_plus_printed_1_to_29"], abs=0.02)
    assert int(np.argmax(ours > book["h"])) + 1 == book["first_alarm_period_1_based"]


def test_the_handbooks_example_both_ways() -> None:
    book = table("control_chart_examples.json")["nist_cusum"]
    x = np.array(book["x"]) - book["target"]
    assert upper(x[None], 2 * book["k"])[0] == pytest.approx(book["S_hi_printed"], abs=0.02)
    assert upper(x[None], -2 * book["k"])[0] == pytest.approx(book["S_lo_printed"], abs=0.02)


BROOK_EVANS = table("arl_tables.json")["published_checks"]["brook_evans_1972"]


def test_brook_and_evans_is_cited_with_its_pages() -> None:
    assert "59(3):539-549" in BROOK_EVANS["citation"] and "539-549" in (__doc__ or "")


@pytest.mark.parametrize(("shift", "run_length"), list(zip(BROOK_EVANS["shift"], BROOK_EVANS["printed"], strict=True)))
def test_run_lengths_of_brook_and_evans(shift: float, run_length: float) -> None:
    """k = 0.5, h = 3, one-sided; printed 117.59 and 3.75. 1,500 runs: standard error about 3 %."""
    assert (BROOK_EVANS["k"], BROOK_EVANS["h"]) == (0.5, 3)
    x = np.random.default_rng(21).normal(shift, 1.0, (1500, 900 if shift == 0 else 60))
    over = upper(x, 1.0, window=40) > 3.0
    assert over.any(axis=1).mean() > 0.995
    lengths = np.where(over.any(axis=1), over.argmax(axis=1) + 1, x.shape[1])
    assert lengths.mean() == pytest.approx(run_length, rel=0.08)


@pytest.mark.parametrize(("shift", "run_length"), [(1.0, 8.38), (2.0, 3.34)])
def test_run_lengths_of_lucas_and_crosier(shift: float, run_length: float) -> None:
    """k = 0.5, h = 4: the delay once a shift is there."""
    x = np.random.default_rng(22).normal(shift, 1.0, (3000, 100))
    over = upper(x, 1.0, window=50) > 4.0
    assert (over.argmax(axis=1) + 1).mean() == pytest.approx(run_length, rel=0.04)


def test_the_alarm_level_of_one_start_and_one_size_is_its_evidence() -> None:
    assert alarm_level(np.array([[3.2, -np.inf]]), 1)[0] == pytest.approx(3.2)


def test_the_alarm_level_adds_start_days_and_averages_sizes() -> None:
    total = np.log(np.array([[2.0, 4.0, 6.0, 8.0]]))
    assert np.exp(alarm_level(total, 2))[0] == pytest.approx((2 + 4 + 6 + 8) / 2)


def test_the_bar_is_higher_for_a_limb_that_wobbles_more() -> None:
    tuning = Tuning(alarm=4.0, alarm_slope=1.0, quiet_wobble=0.2)
    assert bar(np.array([0.05, 0.2, 0.4]), tuning) == pytest.approx([4.0, 4.0, 4.0 + np.log(2)])


def test_the_bar_is_that_of_the_wobble_believed_when_the_jump_began() -> None:
    watch = Watch(1, 1, Tuning(jumps=(1.0,), window=2, alarm=4.0))
    watch.begin(np.array([0]), 0, np.array([0.8]))
    watch.total[0, 0] = 4.5
    assert watch.found().tolist() == []
    watch.wobble[0, 0] = 0.1
    assert watch.found().tolist() == [0]


def test_a_forgotten_limb_raises_no_alarm() -> None:
    watch = Watch(2, 1, Tuning(alarm=1.0))
    watch.total[:] = 5.0
    watch.forget(0)
    assert watch.found().tolist() == [1]


def test_the_oldest_start_day_leaves_the_view() -> None:
    watch = Watch(1, 1, Tuning(jumps=(1.0,), window=3))
    for day in range(5):
        watch.begin(np.array([0]), day, np.zeros(1))
    assert sorted(watch.begun[0].tolist()) == [2, 3, 4]


def test_what_is_left_of_a_jump_shrinks_as_the_filter_takes_it_up() -> None:
    """With a Gaussian answer the filter takes up the gain's share: left' = left (1 - K)."""
    watch = Watch(1, 1, Tuning(jumps=(0.5,), window=1))
    watch.begin(np.array([0]), 0, np.zeros(1))
    var, noise = 0.3, 0.2
    y, half = np.array([0.1]), np.array([1e-3])
    soft = np.sqrt(np.array([noise]))
    watch.weigh(
        np.array([0]),
        np.ones((1, 1)),
        np.full((1, 1), var),
        np.zeros(1),
        np.full(1, var),
        (y - half, y + half, soft, np.zeros(1)),
    )
    assert watch.left[0, 0, 0] == pytest.approx(1 - var / (var + noise), abs=1e-3)


def test_a_measurement_tells_of_a_jump_as_much_as_an_answer_as_narrow() -> None:
    """The ratio of two Gaussian densities, in closed form and by the answers' own likelihood."""
    tuning = Tuning(jumps=(0.5, -1.0), window=3)
    who, off, spread, sd = np.arange(1), np.array([0.7]), 0.3, 0.4
    asked, measured = Watch(1, 1, tuning), Watch(1, 1, tuning)
    for watch in (asked, measured):
        watch.begin(who, 0, np.zeros(1))
    gain = np.full((1, 1), spread)
    answer = (off - 1e-4, off + 1e-4, np.array([sd]), np.zeros(1))
    asked.weigh(who, np.ones((1, 1)), gain, np.zeros(1), np.array([spread]), answer)
    whole = np.array([spread + sd**2])
    measured.weigh_measured(who, (0,), gain / whole, off, whole)
    alive = np.isfinite(asked.total)
    assert measured.total[alive] == pytest.approx(asked.total[alive], abs=1e-4)
    assert measured.left[:, alive] == pytest.approx(asked.left[:, alive], abs=1e-4)


def test_what_is_left_of_a_jump_passes_through_a_day_as_the_state_does() -> None:
    """The transition at the head of `trend`, written out as a matrix."""
    watch = Watch(1, 5, Tuning(jumps=(0.5,), window=1))
    watch.left[:, 0, 0] = before = np.array([0.8, -0.05, 0.1, 0.2, -0.4])
    fade, reach, rho = 0.9, 0.95, 0.6
    watch.predict(np.array([fade]), np.array([reach]), np.array([rho]))
    transition = np.diag([1.0, fade, 1.0, 1.0, rho])
    transition[0, 1] = reach
    assert watch.left[:, 0, 0] == pytest.approx(transition @ before)


def test_the_size_told_lies_between_the_sizes_looked_for() -> None:
    watch = Watch(1, 1, Tuning(jumps=(0.5, -0.5, 1.0, -1.0), window=1))
    watch.begin(np.array([0]), 7, np.zeros(1))
    watch.total[0] = [4.0, -3.0, 4.0, -5.0]
    alarm, _, jump = watch.tell(0, 9)
    assert (alarm.since, alarm.day) == (7, 9) and jump > 0
    assert alarm.size == pytest.approx(0.75)


def test_the_filter_finds_a_clear_step_and_its_first_day() -> None:
    from tests.engine.core.test_trend import a_limb, starts, told  # the same small limbs

    rng = np.random.default_rng(23)
    rows = []
    for day in range(80):
        middle = 1.0 + (1.0 if day >= 50 else 0.0) + rng.normal() * 0.15
        rows.append((0, day, 1, middle - 0.35, middle + 0.35))
    track = trend.run_bank(make_bank(), Told(a_limb(), starts(), told(rows)), 80, Tuning())
    assert len(track.alarms) == 1
    alarm = track.alarms[0]
    assert 50 <= alarm.day <= 56 and abs(alarm.since - 50) <= 2
    assert alarm.size == pytest.approx(1.0, abs=0.4)
    assert track.change[-1, 0] == pytest.approx(1.0, abs=0.35)


def test_a_limb_with_a_weekly_cycle_needs_more_evidence() -> None:
    """The same sums, with and without the cycle: between the two alarms only the other is told."""
    tuning = Tuning()
    watch = Watch(2, 5, tuning, tuning.alarm_weekly * np.array([0.0, 1.0]))
    watch.begin(np.array([0, 1]), 3, np.array([0.1, 0.1]))
    watch.total[:, 0] = np.log(4.0) + tuning.alarm + tuning.alarm_weekly / 2
    assert watch.found().tolist() == [0]
