"""What an answer tells: exact moments, and how much each kind of answer is believed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from plytide.engine.core.observation import LAPSE_PREFILLED, OPEN, answer_interval, answer_score, normal_cdf


def one(x: float) -> np.ndarray:
    return np.array([x])


def interval(**changes: list[float]) -> tuple[np.ndarray, ...]:
    """Answers of a wearer with single 1-ply steps; by default the same good answer throughout."""
    n = max(len(v) for v in changes.values())
    given = {
        "fill": [1.4] * n,
        "up": [0.7] * n,
        "down": [0.7] * n,
        "fit": [0] * n,
        "moved": [0] * n,
        "echo": [False] * n,
        "prefilled": [False] * n,
        "at_floor": [False] * n,
    } | changes
    kinds = {"fit": np.int64, "moved": np.int64, "echo": np.bool_, "prefilled": np.bool_, "at_floor": np.bool_}
    return answer_interval(**{k: np.array(v, kinds.get(k, np.float64)) for k, v in given.items()})


def test_the_normal_distribution_is_right_to_one_in_ten_million() -> None:
    x = np.linspace(-6, 6, 2001)
    assert np.max(np.abs(normal_cdf(x) - stats.norm.cdf(x))) < 1e-7


@pytest.mark.parametrize("mean", [-0.4, 0.1, 0.9, 2.5])
@pytest.mark.parametrize(("soft", "lapse"), [(0.2, 0.02), (0.05, 0.3), (0.4, 0.0)])
def test_moments_after_an_answer_equal_those_by_integration(mean: float, soft: float, lapse: float) -> None:
    var, low, high = 0.3, 0.2, 0.8

    def likelihood(n: float) -> float:
        inside = stats.norm.cdf((n - low) / soft) - stats.norm.cdf((n - high) / soft)
        return float(lapse + (1 - lapse) * inside)

    def moment(power: int) -> float:
        span = (mean - 9 * math.sqrt(var), mean + 9 * math.sqrt(var))
        return float(
            integrate.quad(
                lambda n: n**power * likelihood(n) * stats.norm.pdf(n, mean, math.sqrt(var)),
                *span,
                points=[low, high],
                limit=200,
            )[0]
        )

    z, g, h = answer_score(one(mean), one(var), one(low), one(high), one(soft), one(lapse))
    exact_z, first, second = moment(0), moment(1), moment(2)
    assert z[0] == pytest.approx(exact_z, abs=1e-6)
    assert mean + var * g[0] == pytest.approx(first / exact_z, abs=2e-5)
    assert var - var**2 * h[0] == pytest.approx(second / exact_z - (first / exact_z) ** 2, abs=2e-5)


def test_an_interval_far_wider_than_the_belief_changes_nothing() -> None:
    _, g, h = answer_score(one(0.0), one(0.01), one(-5.0), one(5.0), one(0.1), one(0.02))
    assert abs(g[0]) < 1e-9 and abs(h[0]) < 1e-9


def test_a_narrow_interval_is_a_gaussian_measurement() -> None:
    """v' = v R / (v + R), m' = m + v / (v + R) (y - m)."""
    mean, var, noise, y = 0.3, 0.5, 0.2, 1.1
    _, g, h = answer_score(one(mean), one(var), one(y - 0.002), one(y + 0.002), one(math.sqrt(noise)), one(0.0))
    assert mean + var * g[0] == pytest.approx(mean + var / (var + noise) * (y - mean), abs=1e-3)
    assert var - var**2 * h[0] == pytest.approx(var * noise / (var + noise), abs=1e-3)


def test_loose_puts_the_need_above_what_is_worn_and_tight_below() -> None:
    low, high, _, _ = interval(fit=[1])
    assert low[0] > 1.4
    low, high, _, _ = interval(fit=[-1])
    assert high[0] < 1.4


def test_loose_and_tight_mirror_each_other() -> None:
    above = interval(fit=[1])
    below = interval(fit=[-1])
    assert above[0][0] - 1.4 == pytest.approx(1.4 - below[1][0])
    assert above[1][0] - 1.4 == pytest.approx(1.4 - below[0][0])


def test_good_tells_less_of_a_wearer_who_always_says_it() -> None:
    always = interval(fit=[0] * 40)
    other = interval(fit=[0, 1, 0, -1] * 10)
    assert always[1][-4] - always[0][-4] > other[1][-4] - other[0][-4] + 0.05


def test_at_first_three_fifths_of_the_half_step_are_taken_to_be_called_good() -> None:
    low, high, _, _ = interval(fit=[0], moved=[1])
    assert (float(low[0]), float(high[0])) == pytest.approx((1.4 - 0.6 * 0.35, 1.4 + 0.6 * 0.35))


def test_an_answer_is_read_from_earlier_answers_only() -> None:
    first = interval(fit=[0, 1, 0, 0, 2])
    longer = interval(fit=[0, 1, 0, 0, 2, -1, -1, 1])
    for early, late in zip(first, longer, strict=True):
        assert np.array_equal(early, late[:5])


def test_a_prefilled_answer_is_mostly_ignored_and_an_echo_believed_less() -> None:
    assert interval(prefilled=[True])[3][0] == LAPSE_PREFILLED
    assert interval(echo=[False, True])[3][1] > interval(echo=[False, False])[3][1]


def test_loose_again_and_again_with_the_same_stack_leaves_the_upper_end_open() -> None:
    low, high, _, _ = interval(fit=[1, 1, 1, 1])
    assert high[1] < 2.0 and high[3] == 1.4 + OPEN


def test_with_no_sock_left_to_take_off_the_lower_end_is_open() -> None:
    low, _, _, _ = interval(fill=[0.0], fit=[2], at_floor=[True])
    assert low[0] == -OPEN


def test_after_a_move_up_the_lower_end_is_nearer() -> None:
    stayed = interval(fit=[2], moved=[0])
    moved = interval(fit=[2], moved=[1])
    assert moved[0][0] > stayed[0][0] and moved[1][0] < stayed[1][0]
