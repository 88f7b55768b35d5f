"""The filter: exact small answers, invariances, dense least squares, and other programs' numbers.

Nile: Durbin & Koopman 2012 ch. 2 (parameters confirmed; states from statsmodels and dense algebra, confirmed).
Local linear trend: KFAS and statsmodels exact diffuse start (confirmed). Our start is diffuse by a large variance,
hence the tolerances. Hodrick & Prescott's trend: statsmodels, last value of the filter with q = 1/1600.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from plytide.core import settling, trend
from plytide.core.bank import TAPE, Answers, Bank, Beliefs, Limbs, Starts, Track, Tuning, make_bank
from tests.core.published import columns, table

NONE, NOTHING = np.zeros(0, np.int64), np.zeros(0)
QUIET = Tuning(alarm=1e9)


def a_limb(count: int = 1, **changes: float) -> Limbs:
    known = {"age": 90.0, "coming": 0.0, "coming_sd": 0.6, "weekly": 0.0, "slow": 0.2, "even": 0.05} | changes
    arrays = {k: np.full(count, float(v)) for k, v in known.items()}
    return Limbs(weekday=np.zeros(count, np.int64), **arrays)


def starts(count: int = 1, need: float = 1.0, sd: float = 0.4) -> Starts:
    return Starts(
        np.arange(count),
        np.zeros(count, np.int64),
        np.full(count, need),
        np.full(count, sd),
        NONE,
        NONE,
        NOTHING,
    )


def told(rows: list[tuple[int, int, int, float, float]]) -> Answers:
    """Rows of (limb, day, slot, low, high)."""
    limb, day, slot, low, high = (np.array(c) for c in zip(*rows, strict=True))
    many = len(rows)
    soft = np.where(slot == TAPE, high, 0.2)
    return Answers(limb, day, slot, low.astype(float), high.astype(float), soft.astype(float), np.full(many, 0.02))


def walk(
    days: int, seed: int, limb: int = 0, step: float = 0.0, keep: float = 0.7
) -> list[tuple[int, int, int, float, float]]:
    rng = np.random.default_rng(seed)
    rows = []
    for day in range(days):
        middle = 1.0 + 0.01 * day + rng.normal() * 0.2 + step * (day >= days // 2)
        if rng.random() < keep:
            rows.append((limb, day, int(rng.integers(0, 3)), middle - 0.35, middle + 0.35))
    return rows


def run(
    rows: list[tuple[int, int, int, float, float]], days: int = 60, count: int = 1, tuning: Tuning = QUIET
) -> Track:
    return trend.run_bank(make_bank(), a_limb(count), starts(count), told(rows), days, tuning)


# By hand


def test_on_the_day_of_fitting_the_change_is_exactly_none() -> None:
    track = run([(0, 3, 1, 0.6, 1.3)], days=5)
    assert track.change[0, 0] == 0.0 and track.change_sd[0, 0] == 0.0


def test_without_an_answer_the_coming_change_is_the_prior() -> None:
    track = trend.run_bank(make_bank(), a_limb(coming=0.8, slow=0.0), starts(), told([(0, 2, 1, -4.0, 6.0)]), 2, QUIET)
    assert track.coming[0, 0] == pytest.approx(0.8)
    assert track.coming_sd[0, 0] == pytest.approx(0.6, rel=1e-3)


def test_two_tape_measurements_give_the_textbook_weighted_mean() -> None:
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0)
    # Half way the even change is half as large, and so is its error.
    rows = [(0, 14, TAPE, 0.5, 0.25), (0, 28, TAPE, 2.0, 1.0)]
    track = trend.run_bank(bank, a_limb(even=1.0, slow=0.0), starts(), told(rows), 29, QUIET)
    prior, one, two = 1 / 0.6**2, 1 / 0.5**2, 1 / 1.0**2
    assert track.change[28, 0] == pytest.approx((1.0 * one + 2.0 * two) / (prior + one + two))
    assert track.change_sd[28, 0] == pytest.approx((prior + one + two) ** -0.5)


def test_a_tape_measurement_weighs_the_members_by_their_normal_density() -> None:
    mean, var, sd, value = np.array([0.0, 0.4]), np.array([0.04, 1.0]), 0.5, 0.7
    a, p, log_weight = np.zeros((5, 1, 2)), np.zeros((5, 5, 1, 2)), np.zeros((1, 2))
    a[trend.D, 0], p[trend.D, trend.D, 0] = mean, var
    trend.measure(a, p, log_weight, np.array([0]), np.array([value]), np.array([sd]))
    density = stats.norm.pdf(value, mean, np.sqrt(var + sd * sd))
    assert np.exp(log_weight[0, 0] - log_weight[0, 1]) == pytest.approx(density[0] / density[1])


def test_the_change_of_an_even_law_goes_on_at_its_rate() -> None:
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0)
    known = a_limb(even=1.0, slow=0.0, coming=0.56, coming_sd=1e-9)
    track = trend.run_bank(bank, known, starts(), told([(0, 0, 1, -4.0, 6.0)]), 50, QUIET)
    assert track.change[:, 0] == pytest.approx(0.02 * np.arange(50), abs=1e-6)


def test_the_coming_change_of_the_log_law_shrinks_with_the_age_of_the_limb() -> None:
    """k ln((t + 28)/t), for k fixed by the first 28 days."""
    bank = make_bank(
        laws=((settling.LOG_TIME, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0
    )
    known = a_limb(even=0.0, slow=0.0, coming=0.9, coming_sd=1e-9)
    track = trend.run_bank(bank, known, starts(), told([(0, 0, 1, -4.0, 6.0)]), 61, QUIET)
    k = 0.9 / math.log(118 / 90)
    assert track.coming[60, 0] == pytest.approx(k * math.log(178 / 150), abs=1e-6)
    assert track.change[60, 0] == pytest.approx(k * math.log(150 / 90), abs=1e-6)


def test_the_need_is_the_change_and_the_baseline_with_their_covariance() -> None:
    """An answer about the sum is known better than either part."""
    track = run(walk(30, 15, keep=1.0), days=30)
    assert track.need_sd[29, 0] < track.change_sd[29, 0]


def test_an_alarm_moves_the_level_at_once_and_widens_it() -> None:
    rows = []
    rng = np.random.default_rng(16)
    for day in range(60):
        middle = 1.0 + (1.2 if day >= 50 else 0.0) + rng.normal() * 0.1
        rows.append((0, day, 1, middle - 0.35, middle + 0.35))
    alert, deaf = run(rows, tuning=Tuning()), run(rows)
    found = alert.alarms[0].day
    assert alert.change[found - 1, 0] == deaf.change[found - 1, 0]
    assert alert.change[found, 0] > deaf.change[found, 0] + 0.2
    assert alert.change_sd[found, 0] > 1.3 * deaf.change_sd[found, 0]
    assert abs(alert.change[59, 0] - 1.2) < abs(deaf.change[59, 0] - 1.2)


# Invariances


def test_a_shift_of_all_thickness_does_not_change_the_change() -> None:
    rows = walk(60, 1)
    moved = [(limb, day, slot, low + 1.7, high + 1.7) for limb, day, slot, low, high in rows]
    one = run(rows)
    other = trend.run_bank(make_bank(), a_limb(), starts(need=2.7), told(moved), 60, QUIET)
    assert other.change == pytest.approx(one.change, abs=1e-9)
    assert other.need == pytest.approx(one.need + 1.7, abs=1e-9)


def test_a_mirrored_log_gives_the_mirrored_change() -> None:
    rows = walk(60, 2)
    mirrored = [(limb, day, 2 - slot, 2.0 - high, 2.0 - low) for limb, day, slot, low, high in rows]
    one, other = run(rows), run(mirrored)
    assert other.change == pytest.approx(-one.change, abs=1e-6)
    assert other.above == pytest.approx(one.below, abs=1e-6)


def test_the_order_of_arrival_does_not_matter() -> None:
    rows = walk(60, 3)
    shuffled = [rows[i] for i in np.random.default_rng(0).permutation(len(rows))]
    assert np.array_equal(run(shuffled).change, run(rows).change)


def test_what_comes_later_never_changes_an_earlier_day() -> None:
    rows = walk(60, 4, step=1.2)
    tuning = Tuning(alarm=3.0)
    whole, early = run(rows, tuning=tuning), run([r for r in rows if r[1] < 40], tuning=tuning)
    for name in ("change", "change_sd", "need", "coming", "coming_sd", "above", "below"):
        assert np.array_equal(getattr(whole, name)[:40], getattr(early, name)[:40])


def test_a_gap_widens_the_band() -> None:
    rows = walk(60, 5, keep=1.0)
    gap = [r for r in rows if not 30 <= r[1] < 50]
    full, gappy = run(rows), run(gap)
    assert np.array_equal(full.change[:30], gappy.change[:30])
    assert gappy.change_sd[49, 0] > 1.3 * full.change_sd[49, 0]


def test_limbs_in_one_batch_do_not_hear_each_other() -> None:
    one, two = walk(60, 6), walk(60, 7, limb=1, step=1.0)
    tuning = Tuning(alarm=4.0)
    both = run(one + two, count=2, tuning=tuning)
    alone = run(one, tuning=tuning)
    assert both.change[:, 0] == pytest.approx(alone.change[:, 0], abs=1e-12)
    assert both.coming[:, 0] == pytest.approx(alone.coming[:, 0], abs=1e-12)


def test_beliefs_are_given_for_the_days_wanted_and_agree_with_the_track() -> None:
    rows, got = walk(60, 8), []
    wanted = {10: np.array([0]), 59: np.array([0])}
    track = trend.run_bank(make_bank(), a_limb(), starts(), told(rows), 60, QUIET, wanted, got.append)
    beliefs: Beliefs = got[0]
    assert beliefs.day.tolist() == [10, 59]
    assert np.sum(beliefs.weight * beliefs.d, axis=1) == pytest.approx(track.change[[10, 59], 0])
    assert np.sum(beliefs.weight, axis=1) == pytest.approx([1.0, 1.0])
    for mean, var, said in ((beliefs.need, beliefs.var_need, track.need_sd), (beliefs.d, beliefs.var_d, track.change_sd)):
        middle = np.sum(beliefs.weight * mean, axis=1)
        spread = np.sqrt(np.sum(beliefs.weight * (var + mean**2), axis=1) - middle**2)
        assert spread == pytest.approx(said[[10, 59], 0])


def test_a_new_socket_starts_the_change_anew_and_keeps_the_rate() -> None:
    rows = walk(60, 9)
    twice = Starts(np.array([0, 0]), np.array([0, 40]), np.array([1.0, 0.4]), np.array([0.4, 0.4]), NONE, NONE, NOTHING)
    track = trend.run_bank(make_bank(), a_limb(), twice, told([r for r in rows if r[1] < 40]), 60, QUIET)
    assert track.change[40, 0] == 0.0 and track.change_sd[40, 0] == 0.0
    assert track.coming[40, 0] == pytest.approx(track.coming[39, 0], rel=0.1)


def test_a_pad_lets_the_need_shift_unseen() -> None:
    rows = walk(60, 10, keep=1.0)
    padded = replace(starts(), pad_limb=np.array([0]), pad_day=np.array([40]), pad_sd=np.array([0.8]))
    track = trend.run_bank(make_bank(), a_limb(), padded, told(rows), 60, QUIET)
    plain = run(rows)
    assert np.array_equal(track.need_sd[:40], plain.need_sd[:40])
    assert track.need_sd[40, 0] > plain.need_sd[40, 0]


def test_the_weekly_cycle_is_taken_out_of_the_level() -> None:
    rng = np.random.default_rng(11)
    cycle = 0.5 * np.array([1.0, -0.5, 0.8, -0.5, 0.8, -0.5, -1.1])
    rows = []
    for day in range(120):
        middle = 1.0 + cycle[day % 7] + rng.normal() * 0.1
        rows.append((0, day, 1, middle - 0.2, middle + 0.2))
    heard = trend.run_bank(make_bank(), a_limb(weekly=0.3), starts(), told(rows), 120, QUIET)
    deaf = trend.run_bank(make_bank(), a_limb(), starts(), told(rows), 120, QUIET)
    assert np.std(np.diff(heard.need[60:, 0])) < 0.5 * np.std(np.diff(deaf.need[60:, 0]))


def test_the_three_weekly_harmonics_are_those_of_a_week() -> None:
    """Sines and cosines of 1, 2 and 3 turns a week: each of mean 0 and mean square 1/2, none like another."""
    week = np.arange(7)
    rows = trend._direction(5 + 2 * trend.HARMONICS, 1, week)[5:]
    assert rows @ rows.T == pytest.approx(3.5 * np.eye(6), abs=1e-12)
    assert rows[:, 0] == pytest.approx([1.0, 0.0] * 3)
    assert rows[0] == pytest.approx(np.cos(2 * np.pi * week / 7))


# Dense least squares


def test_the_filter_agrees_with_dense_bayes_on_tape_measurements() -> None:
    """d at measured days is Gaussian with a covariance that can be written down; no recursion."""
    days, q = [3, 9, 10, 25, 40], 0.05
    values, sds = np.array([0.2, 0.5, 0.3, 1.1, 1.4]), np.array([0.3, 0.4, 0.3, 0.5, 0.2])
    bank = make_bank(
        laws=((settling.EXPONENTIAL, 20.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=q, rate_noise=0.0
    )
    rows = [(0, d, TAPE, float(v), float(s)) for d, v, s in zip(days, values, sds, strict=True)]
    track = trend.run_bank(bank, a_limb(slow=0.0, even=0.0, coming=0.7), starts(), told(rows), 41, QUIET)
    grow = 20.0 * -np.expm1(-np.array(days) / 20.0)
    unit = 20.0 * -math.expm1(-28 / 20.0)
    cov = np.outer(grow, grow) * (0.6 / unit) ** 2 + q**2 * np.minimum.outer(days, days)
    mean = grow * 0.7 / unit
    gain = np.linalg.solve(cov + np.diag(sds**2), cov[:, -1])
    assert track.change[40, 0] == pytest.approx(mean[-1] + gain @ (values - mean), abs=1e-10)
    assert track.change_sd[40, 0] == pytest.approx(math.sqrt(cov[-1, -1] - gain @ cov[:, -1]), abs=1e-10)


def test_the_filter_agrees_with_dense_bayes_on_narrow_answers() -> None:
    """Need = d + b + w + swing: with answers as good as Gaussian the posterior is that of one linear system."""
    rng = np.random.default_rng(12)
    days, sd, rho, wobble = np.array([1, 2, 5, 6, 9, 14, 15, 20]), 0.3, 0.6, 0.4
    slots = np.array([0, 2, 1, 0, 2, 1, 0, 1])
    y = 1.0 + 0.03 * days + rng.normal(size=len(days)) * 0.4
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(wobble,), rhos=(rho,), level_noise=0.0, rate_noise=0.0)
    rows = [(0, int(d), int(s), v - 1e-3, v + 1e-3) for d, s, v in zip(days, slots, y, strict=True)]
    answers = replace(told(rows), soft=np.full(len(y), sd), lapse=np.zeros(len(y)))
    track = trend.run_bank(bank, a_limb(even=1.0, slow=0.0), starts(), answers, 21, QUIET)
    part = slots / 2 - 0.5
    cov = (0.6 / 28) ** 2 * np.outer(days, days) + 0.4**2 + 0.3**2 * np.outer(part, part)
    cov = cov + wobble**2 * rho ** np.abs(np.subtract.outer(days, days))
    cross = (0.6 / 28) ** 2 * 20 * days
    gain = np.linalg.solve(cov + sd**2 * np.eye(len(y)), cross)
    assert track.change[20, 0] == pytest.approx(gain @ (y - 1.0), abs=2e-3)
    assert track.change_sd[20, 0] == pytest.approx(math.sqrt((0.6 / 28 * 20) ** 2 - gain @ cross), abs=2e-3)


# Other programs


def filtered(y: list[float], noise: float, q_level: float, q_slope: float, slope_sd: float) -> np.ndarray:
    """Level, slope and their variances by our predict and measure, from a start as good as diffuse; rows are times."""
    bank = Bank(
        np.array([settling.EVEN]),
        np.ones(1),
        np.zeros(1),
        np.zeros(1),
        np.ones(1),
        math.sqrt(q_level),
        math.sqrt(q_slope),
    )
    a, p = np.zeros((5, 1, 1)), np.zeros((5, 5, 1, 1))
    p[trend.D, trend.D], p[trend.R, trend.R] = 1e10, slope_sd**2
    one, out = np.ones((1, 1)), []
    for t, value in enumerate(y):
        if t:
            trend.predict(a, p, one, one, bank)
        if not math.isnan(value):
            trend.measure(a, p, np.zeros((1, 1)), np.array([0]), np.array([value]), np.array([math.sqrt(noise)]))
        out.append([a[0, 0, 0], a[1, 0, 0], p[0, 0, 0, 0], p[1, 1, 0, 0]])
    return np.array(out)


@pytest.mark.parametrize("name", ["nile_local_level", "nile_local_level_missing_21_40_61_80"])
def test_the_nile_is_filtered_as_by_durbin_and_koopman(name: str) -> None:
    nile = columns(f"{name}.csv")
    ours = filtered(nile["y"], 15099.0, 1469.1, 0.0, 0.0)
    assert ours[:, 0] == pytest.approx(nile["a_filt"], rel=1e-5)
    assert ours[:, 2] == pytest.approx(nile["P_filt"], rel=1e-5)


def test_the_nile_reaches_its_steady_state() -> None:
    steady = table("nile_reference.json")["steady_state"]
    ours = filtered(columns("nile_local_level.csv")["y"], 15099.0, 1469.1, 0.0, 0.0)
    assert ours[-1, 2] == pytest.approx(steady["P_filt_analytic"], rel=1e-6)


@pytest.mark.parametrize("case", ["", "_missing"])
def test_the_local_linear_trend_is_that_of_kfas(case: str) -> None:
    kfas = table("local_linear_trend_reference.json")[f"results_exact_initial_local_linear_trend{case}_R.csv"]
    y = [float("nan") if value is None else value for value in kfas["y"]]
    ours = filtered(y, kfas["H"], *kfas["Q"], slope_sd=1e4)
    settled = slice(3, None)  # once both states are known the diffuse start no longer shows
    assert ours[settled, 0] == pytest.approx(kfas["filt_level"][settled], abs=1e-4)
    assert ours[settled, 1] == pytest.approx(kfas["filt_slope"][settled], abs=1e-4)
    assert ours[settled, 2] == pytest.approx(kfas["P_level"][settled], abs=1e-4)


def test_the_last_filtered_level_is_the_end_of_the_hodrick_prescott_trend() -> None:
    gdp = columns("hp_identity_macrodata.csv")
    ours = filtered(gdp["y_100log_realgdp"], 1600.0, 0.0, 1.0, slope_sd=1e4)
    assert ours[-1, 0] == pytest.approx(gdp["hp_trend_1600"][-1], rel=1e-6)


def test_the_filter_agrees_with_statsmodels() -> None:
    structural = pytest.importorskip("statsmodels.tsa.statespace.structural")
    y = np.cumsum(np.random.default_rng(13).normal(size=60)) + np.random.default_rng(14).normal(size=60)
    y[20:27] = np.nan
    model = structural.UnobservedComponents(y, "lltrend")
    theirs = model.filter([0.5, 0.8, 0.05]).filtered_state
    ours = filtered(list(y), 0.5, 0.8, 0.05, slope_sd=1e4)
    assert ours[5:, 0] == pytest.approx(theirs[0, 5:], abs=1e-3)
    assert ours[5:, 1] == pytest.approx(theirs[1, 5:], abs=1e-3)
