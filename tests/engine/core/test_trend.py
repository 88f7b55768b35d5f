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

from plytide.engine.core import settling, trend
from plytide.engine.core.bank import (
    HARMONICS,
    OFFSET_SD,
    TAPE,
    Answers,
    Bank,
    Beliefs,
    Layout,
    Limbs,
    Starts,
    Told,
    Track,
    Tuning,
    make_bank,
)
from tests.engine.core.published import columns, table

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
    """Rows of (limb, day, slot, low, high); of a tape: its value and its own sd, nothing else moving."""
    limb, day, slot, low, high = (np.array(c) for c in zip(*rows, strict=True))
    many = len(rows)
    soft = np.where(slot == TAPE, high, 0.2)
    high = np.where(slot == TAPE, 0.0, high)
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
    return trend.run_bank(make_bank(), Told(a_limb(count), starts(count), told(rows)), days, tuning)


# By hand


def test_on_the_day_of_fitting_the_change_is_exactly_none() -> None:
    track = run([(0, 3, 1, 0.6, 1.3)], days=5)
    assert track.change[0, 0] == 0.0 and track.change_sd[0, 0] == 0.0


def test_without_an_answer_the_coming_change_is_the_prior() -> None:
    track = trend.run_bank(
        make_bank(), Told(a_limb(coming=0.8, slow=0.0), starts(), told([(0, 2, 1, -4.0, 6.0)])), 2, QUIET
    )
    assert track.coming[0, 0] == pytest.approx(0.8)
    assert track.coming_sd[0, 0] == pytest.approx(0.6, rel=1e-3)


def test_two_tape_measurements_tell_the_change_between_them_and_not_more() -> None:
    """The first begins the scale.

    An even trend of prior sd 0.6 mm in 28 days, and one difference of sd sqrt(2) 0.25.
    """
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(1e-6,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0)
    rows = [(0, 14, TAPE, 0.0, 0.25), (0, 42, TAPE, 1.0, 0.25)]
    track = trend.run_bank(bank, Told(a_limb(even=1.0, slow=0.0), starts(), told(rows)), 43, QUIET)
    assert track.coming_sd[41, 0] == pytest.approx(0.6, rel=3e-3)
    prior, seen = 1 / 0.6**2, 1 / (2 * 0.25**2)
    assert track.coming[42, 0] == pytest.approx(1.0 * seen / (prior + seen), rel=2e-3)
    assert track.coming_sd[42, 0] == pytest.approx((prior + seen) ** -0.5, rel=2e-3)


def test_a_tape_sees_the_limb_of_that_day_wobble_and_all() -> None:
    """Without a trend, two exact tapes far apart tell their difference of wobbles and leave the level unknown."""
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(0.5,), rhos=(0.0,), level_noise=0.0, rate_noise=0.0)
    rows = [(0, 14, TAPE, 0.0, 1e-4), (0, 42, TAPE, 1.0, 1e-4)]
    track = trend.run_bank(bank, Told(a_limb(even=1.0, slow=0.0), starts(), told(rows)), 43, QUIET)
    prior, seen = 1 / 0.6**2, 1 / (2 * 0.5**2)
    assert track.coming[42, 0] == pytest.approx(seen / (prior + seen), rel=1e-2)


def test_a_tape_in_another_hand_says_less() -> None:
    rows = [(0, 14, TAPE, 0.0, 0.25), (0, 42, TAPE, 1.0, 0.25)]
    one_hand = told(rows)
    other = replace(one_hand, high=np.array([0.0, 1.0]))
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(1e-6,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0)
    tracks = [
        trend.run_bank(bank, Told(a_limb(even=1.0, slow=0.0), starts(), heard), 43, QUIET)
        for heard in (one_hand, other)
    ]
    prior, seen = 1 / 0.6**2, 1 / (2 * 0.25**2 + 1.0**2)
    assert tracks[1].coming[42, 0] == pytest.approx(seen / (prior + seen), rel=5e-3)
    assert tracks[1].coming[42, 0] < 0.6 * tracks[0].coming[42, 0]


def test_tapes_do_not_take_each_others_shared_error_away() -> None:
    """A hundred tapes by hands that differ by 1 mm on one day and the next: their habit is not averaged out."""
    rows = [(0, day, TAPE, 0.02 * day, 0.1) for day in range(1, 57)]
    moving = replace(told(rows), high=np.where(np.arange(56) > 0, 0.13, 0.0))
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(1e-6,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0)
    track = trend.run_bank(bank, Told(a_limb(even=1.0, slow=0.0), starts(), moving), 57, QUIET)
    walk_sd = 0.13 * math.sqrt(28)  # what a habit that wanders so far a day makes of four weeks
    assert track.coming_sd[56, 0] > 0.5 * (1 / 0.6**2 + 2 / walk_sd**2) ** -0.5 + 0.1


def test_a_slip_of_the_tape_turns_no_trend() -> None:
    rows = walk(60, 21, keep=1.0)
    right = [(0, 10, TAPE, 0.0, 0.5), (0, 50, TAPE, 0.4, 0.5)]
    slipped = [(0, 10, TAPE, 0.0, 0.5), (0, 50, TAPE, 16.0, 0.5)]  # ten centimetres of circumference
    one, other = run(rows + right), run(rows + slipped)
    assert other.change[59, 0] == pytest.approx(one.change[59, 0], abs=0.35)
    assert other.coming[59, 0] == pytest.approx(one.coming[59, 0], abs=0.35)


def test_what_a_tape_moved_is_told() -> None:
    rows = walk(60, 22, keep=1.0)
    tapes = [(0, 10, TAPE, 0.0, 0.2), (0, 50, TAPE, 1.2, 0.2)]
    track, plain = run(rows + tapes), run(rows)
    first, second = track.tapes
    assert (first.day, second.day) == (10, 50)
    assert abs(first.after - first.before) < 0.02
    assert second.after > second.before + 0.05
    assert second.before == pytest.approx(plain.change[50, 0], abs=0.1)
    assert second.after == pytest.approx(track.change[50, 0])


def test_a_rough_hand_does_not_pass_for_a_limb_that_wobbles() -> None:
    """Daily tapes that scatter far more than they should leave what is believed of the socks' wobble alone."""
    rows = walk(60, 24, keep=1.0)
    scatter = np.random.default_rng(25).normal(0, 1.5, 60)
    tapes = [(0, day, TAPE, float(off), 0.5) for day, off in enumerate(scatter)]
    kept: list[Beliefs] = []
    for heard in (rows, rows + tapes):
        wanted = {59: np.array([0])}
        trend.run_bank(make_bank(), Told(a_limb(), starts(), told(heard)), 60, QUIET, trend.Look(wanted, kept.append))
    wobble = [float(beliefs.weight[0] @ make_bank().wobble) for beliefs in kept]
    assert wobble[1] == pytest.approx(wobble[0], rel=0.25)


def test_the_change_of_an_even_law_goes_on_at_its_rate() -> None:
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0)
    known = a_limb(even=1.0, slow=0.0, coming=0.56, coming_sd=1e-9)
    track = trend.run_bank(bank, Told(known, starts(), told([(0, 0, 1, -4.0, 6.0)])), 50, QUIET)
    assert track.change[:, 0] == pytest.approx(0.02 * np.arange(50), abs=1e-6)


def test_the_coming_change_of_the_log_law_shrinks_with_the_age_of_the_limb() -> None:
    """k ln((t + 28)/t), for k fixed by the first 28 days."""
    bank = make_bank(
        laws=((settling.LOG_TIME, 1.0, 1.0),), wobbles=(0.2,), rhos=(0.5,), level_noise=0.0, rate_noise=0.0
    )
    known = a_limb(even=0.0, slow=0.0, coming=0.9, coming_sd=1e-9)
    track = trend.run_bank(bank, Told(known, starts(), told([(0, 0, 1, -4.0, 6.0)])), 61, QUIET)
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
    other = trend.run_bank(make_bank(), Told(a_limb(), starts(need=2.7), told(moved)), 60, QUIET)
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
    track = trend.run_bank(make_bank(), Told(a_limb(), starts(), told(rows)), 60, QUIET, trend.Look(wanted, got.append))
    beliefs: Beliefs = got[0]
    assert beliefs.day.tolist() == [10, 59]
    assert np.sum(beliefs.weight * beliefs.d, axis=1) == pytest.approx(track.change[[10, 59], 0])
    assert np.sum(beliefs.weight, axis=1) == pytest.approx([1.0, 1.0])
    for mean, var, said in (
        (beliefs.need, beliefs.var_need, track.need_sd),
        (beliefs.d, beliefs.var_d, track.change_sd),
    ):
        middle = np.sum(beliefs.weight * mean, axis=1)
        spread = np.sqrt(np.sum(beliefs.weight * (var + mean**2), axis=1) - middle**2)
        assert spread == pytest.approx(said[[10, 59], 0])


def test_a_new_socket_starts_the_change_anew_and_keeps_the_rate() -> None:
    rows = walk(60, 9)
    twice = Starts(np.array([0, 0]), np.array([0, 40]), np.array([1.0, 0.4]), np.array([0.4, 0.4]), NONE, NONE, NOTHING)
    track = trend.run_bank(make_bank(), Told(a_limb(), twice, told([r for r in rows if r[1] < 40])), 60, QUIET)
    assert track.change[40, 0] == 0.0 and track.change_sd[40, 0] == 0.0
    assert track.coming[40, 0] == pytest.approx(track.coming[39, 0], rel=0.1)


def test_the_limb_stays_as_it_is_when_a_socket_is_fitted() -> None:
    rows = walk(60, 9)
    twice = Starts(np.array([0, 0]), np.array([0, 40]), np.array([1.0, 0.4]), np.array([0.4, 0.4]), NONE, NONE, NOTHING)
    heard = told([r for r in rows if r[1] < 40])
    track = trend.run_bank(make_bank(), Told(a_limb(), twice, heard), 60, QUIET)
    once = trend.run_bank(make_bank(), Told(a_limb(), starts(), heard), 60, QUIET)
    assert track.limb == pytest.approx(once.change, abs=1e-12)
    assert track.limb_sd == pytest.approx(once.change_sd, abs=1e-9)
    assert np.array_equal(track.limb[:40], track.change[:40])


def test_a_new_socket_leaves_the_answers_of_the_old_one_to_tell_of_the_limb() -> None:
    """However much sock is worn in the new one, only how it goes on counts."""
    rows = walk(80, 23, keep=1.0)
    shifted = [
        (limb, day, slot, low + 1.1 * (day >= 40), high + 1.1 * (day >= 40)) for limb, day, slot, low, high in rows
    ]
    sockets = Starts(
        np.array([0, 0]), np.array([0, 40]), np.array([1.0, 1.4]), np.array([0.4, 0.4]), NONE, NONE, NOTHING
    )
    other = replace(sockets, mean=np.array([1.0, 2.5]))
    one = trend.run_bank(make_bank(), Told(a_limb(), sockets, told(rows)), 80, QUIET)
    two = trend.run_bank(make_bank(), Told(a_limb(), other, told(shifted)), 80, QUIET)
    assert two.limb == pytest.approx(one.limb, abs=1e-9)
    assert one.limb_sd[60, 0] > one.limb_sd[39, 0]


def test_a_pad_lets_the_need_shift_unseen() -> None:
    rows = walk(60, 10, keep=1.0)
    padded = replace(starts(), pad_limb=np.array([0]), pad_day=np.array([40]), pad_sd=np.array([0.8]))
    track = trend.run_bank(make_bank(), Told(a_limb(), padded, told(rows)), 60, QUIET)
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
    heard = trend.run_bank(make_bank(), Told(a_limb(weekly=0.3), starts(), told(rows)), 120, QUIET)
    deaf = trend.run_bank(make_bank(), Told(a_limb(), starts(), told(rows)), 120, QUIET)
    assert np.std(np.diff(heard.need[60:, 0])) < 0.5 * np.std(np.diff(deaf.need[60:, 0]))


def test_the_three_weekly_harmonics_are_those_of_a_week() -> None:
    """Sines and cosines of 1, 2 and 3 turns a week: each of mean 0 and mean square 1/2, none like another."""
    week = np.arange(7)
    layout = Layout.of(earlier=True, offset=False, weekly=True)
    assert layout.weekly == 6 and layout.states == 6 + 2 * HARMONICS
    rows = trend._direction(layout, 1, week)[layout.weekly :]
    assert rows @ rows.T == pytest.approx(3.5 * np.eye(6), abs=1e-12)
    assert rows[:, 0] == pytest.approx([1.0, 0.0] * 3)
    assert rows[0] == pytest.approx(np.cos(2 * np.pi * week / 7))


# Dense least squares


def test_the_filter_agrees_with_dense_bayes_on_tape_measurements() -> None:
    """Level, wobble and offset at measured days are Gaussian, their covariance can be written down; no recursion."""
    days, q, wobble, rho = np.array([3, 9, 10, 25, 40]), 0.05, 0.2, 0.5
    values, sds = np.array([0.0, 0.5, 0.3, 1.1, 1.4]), np.array([0.3, 0.4, 0.3, 0.5, 0.2])
    moved = np.array([0.0, 0.2, 0.5, 0.0, 0.3])
    bank = make_bank(
        laws=((settling.EXPONENTIAL, 20.0, 1.0),), wobbles=(wobble,), rhos=(rho,), level_noise=q, rate_noise=0.0
    )
    rows = [(0, int(d), TAPE, float(v), float(s)) for d, v, s in zip(days, values, sds, strict=True)]
    heard = replace(told(rows), high=moved)
    track = trend.run_bank(bank, Told(a_limb(slow=0.0, even=0.0, coming=0.7), starts(), heard), 41, QUIET)
    grow = 20.0 * -np.expm1(-days / 20.0)
    unit = 20.0 * -math.expm1(-28 / 20.0)
    level = np.outer(grow, grow) * (0.6 / unit) ** 2 + q**2 * np.minimum.outer(days, days)
    offset = OFFSET_SD**2 + np.minimum.outer(np.cumsum(moved**2), np.cumsum(moved**2))
    cov = level + offset + wobble**2 * rho ** np.abs(np.subtract.outer(days, days)) + np.diag(sds**2)
    mean = grow * 0.7 / unit
    gain = np.linalg.solve(cov, level[:, -1])
    assert track.change[40, 0] == pytest.approx(mean[-1] + gain @ (values - mean), abs=1e-9)
    assert track.change_sd[40, 0] == pytest.approx(math.sqrt(level[-1, -1] - gain @ level[:, -1]), abs=1e-9)


def test_the_filter_agrees_with_dense_bayes_across_a_new_socket() -> None:
    """Answers in two sockets and tapes in both: one linear system of rate, two baselines, offset and wobble."""
    rng = np.random.default_rng(31)
    days, fitted, sd, rho, wobble = np.array([1, 4, 8, 12, 15, 19, 22, 26]), 14, 0.3, 0.6, 0.4
    y = 1.0 + 0.03 * days - 0.8 * (days >= fitted) + rng.normal(size=len(days)) * 0.3
    tape_days, tapes, tape_sd = np.array([2, 24]), np.array([0.0, 0.9]), 0.5
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(wobble,), rhos=(rho,), level_noise=0.0, rate_noise=0.0)
    rows = [(0, int(d), 1, v - 1e-3, v + 1e-3) for d, v in zip(days, y, strict=True)]
    rows += [(0, int(d), TAPE, float(v), tape_sd) for d, v in zip(tape_days, tapes, strict=True)]
    heard = told(rows)
    heard = replace(heard, soft=np.where(heard.slot == TAPE, tape_sd, sd), lapse=np.zeros(len(rows)))
    sockets = Starts(
        np.zeros(2, int), np.array([0, fitted]), np.array([1.0, 0.7]), np.array([0.4, 0.4]), NONE, NONE, NOTHING
    )
    track = trend.run_bank(bank, Told(a_limb(even=1.0, slow=0.0), sockets, heard), 31, QUIET)

    when = np.concatenate([days, tape_days]).astype(float)
    is_tape = np.arange(len(when)) >= len(days)
    new = (when >= fitted) & ~is_tape
    since = np.where(new, when - fitted, when)
    design = np.stack([since, (~new & ~is_tape) * 0.4, new * 0.4, is_tape * OFFSET_SD])
    design[0] *= 0.6 / 28
    cov = design.T @ design + wobble**2 * rho ** np.abs(np.subtract.outer(when, when))
    cov += np.diag(np.where(is_tape, tape_sd, sd) ** 2)
    seen = np.concatenate([y, tapes]) - np.where(is_tape, 0.0, np.where(new, 0.7, 1.0))
    for said, said_sd, length in ((track.limb, track.limb_sd, 30), (track.change, track.change_sd, 30 - fitted)):
        own = 0.6 / 28 * length
        gain = np.linalg.solve(cov, own * design[0])
        assert said[30, 0] == pytest.approx(gain @ seen, abs=3e-3)
        assert said_sd[30, 0] == pytest.approx(math.sqrt(own**2 - gain @ (own * design[0])), abs=3e-3)


def test_the_filter_agrees_with_dense_bayes_on_narrow_answers() -> None:
    """Need = d + b + w + swing: with answers as good as Gaussian the posterior is that of one linear system."""
    rng = np.random.default_rng(12)
    days, sd, rho, wobble = np.array([1, 2, 5, 6, 9, 14, 15, 20]), 0.3, 0.6, 0.4
    slots = np.array([0, 2, 1, 0, 2, 1, 0, 1])
    y = 1.0 + 0.03 * days + rng.normal(size=len(days)) * 0.4
    bank = make_bank(laws=((settling.EVEN, 1.0, 1.0),), wobbles=(wobble,), rhos=(rho,), level_noise=0.0, rate_noise=0.0)
    rows = [(0, int(d), int(s), v - 1e-3, v + 1e-3) for d, s, v in zip(days, slots, y, strict=True)]
    answers = replace(told(rows), soft=np.full(len(y), sd), lapse=np.zeros(len(y)))
    track = trend.run_bank(bank, Told(a_limb(even=1.0, slow=0.0), starts(), answers), 21, QUIET)
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
            trend.measure(a, p, np.array([0]), np.array([value]), np.array([math.sqrt(noise)]), (trend.D,))
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
