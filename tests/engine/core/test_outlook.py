"""Intervals of mixtures, and the settling day, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from plytide.engine.core import settling
from plytide.engine.core.outlook import Courses, mixture_interval, normal_interval, pooled, settling_day, stays_within

AHEAD = np.arange(0.0, 400.0, 2.0)


def test_one_normal_has_its_own_interval() -> None:
    centre, low, high = mixture_interval(np.ones((1, 1)), np.array([[0.4]]), np.array([[0.09]]))
    assert (centre[0], low[0], high[0]) == pytest.approx((0.4, 0.4 - 1.645 * 0.3, 0.4 + 1.645 * 0.3), abs=2e-3)
    assert normal_interval(np.ones((1, 1)), np.array([[0.4]]), np.array([[0.09]]))[1] == pytest.approx(low, abs=2e-3)


def test_a_lopsided_mixture_has_the_quantiles_of_its_distribution() -> None:
    weight, mean, sd = np.array([[0.7, 0.2, 0.1]]), np.array([[0.0, 1.0, 4.0]]), np.array([[0.2, 0.5, 1.0]])
    _, low, high = mixture_interval(weight, mean, sd**2)

    def cdf(x: float) -> float:
        return float(weight[0] @ stats.norm.cdf((x - mean[0]) / sd[0]))

    spread = pooled(weight, mean, sd**2)[1][0]
    assert low[0] == pytest.approx(optimize.brentq(lambda x: cdf(x) - 0.05, -5, 9), abs=0.002 * spread)
    assert high[0] == pytest.approx(optimize.brentq(lambda x: cdf(x) - 0.95, -5, 9), abs=0.002 * spread)


def test_a_settled_rate_is_settled_today() -> None:
    middle, low, high = certain(settling.EXPONENTIAL, 30.0, coming=0.3)
    assert (middle, low, high) == (0.0, 0.0, 0.0)


def certain(law: int, tau: float, coming: float, age: float = 90.0) -> tuple[float, float, float]:
    laws, taus, ages = np.array([law]), np.array([tau]), np.array([age])
    rate = coming / settling.reach(laws, taus, ages, 28.0)[None]
    found = settling_day(Courses(np.ones((1, 1)), rate, np.full((1, 1), 1e-7), laws, taus, ages), 0.7, AHEAD)
    return tuple(float(x[0]) for x in found)  # type: ignore[return-value]


def test_an_exponential_settles_when_its_coming_change_has_faded_to_the_margin() -> None:
    """tau ln(coming / margin)."""
    middle, low, high = certain(settling.EXPONENTIAL, 30.0, coming=1.4)
    assert middle == pytest.approx(30 * math.log(2), abs=2.0)
    assert low <= middle <= high


def test_loss_by_log_time_settles_by_its_own_closed_form() -> None:
    """k ln((t + 28)/t) = margin."""
    k = 1.2 / math.log(118 / 90)
    day = 28 / math.expm1(0.7 / k) - 90
    assert certain(settling.LOG_TIME, 1.0, coming=1.2)[0] == pytest.approx(day, abs=2.0)


def test_an_even_trend_never_settles() -> None:
    assert all(math.isnan(x) for x in certain(settling.EVEN, 1.0, coming=1.2))


def test_an_unsure_rate_has_a_wide_settling_day_and_an_open_end() -> None:
    laws, taus = np.array([settling.EXPONENTIAL, settling.EVEN]), np.array([30.0, 1.0])
    rate = np.array([[0.05, 0.05]])
    middle, low, high = settling_day(
        Courses(np.array([[0.9, 0.1]]), rate, np.full((1, 2), 0.004), laws, taus, np.array([90.0])), 0.7, AHEAD
    )
    assert low[0] < middle[0] and math.isnan(high[0])


def test_a_day_that_may_well_never_come_is_not_said() -> None:
    """One law in four has no end: that it settles is likelier than not, and the day can't be known."""
    laws, taus = np.array([settling.EXPONENTIAL, settling.EVEN]), np.array([30.0, 1.0])
    middle, low, high = settling_day(
        Courses(np.array([[0.75, 0.25]]), np.full((1, 2), 0.05), np.full((1, 2), 1e-5), laws, taus, np.array([90.0])),
        0.7,
        AHEAD,
    )
    assert middle[0] > 0 and math.isnan(low[0]) and math.isnan(high[0])


def test_the_settling_day_is_that_of_a_limb_not_there_yet() -> None:
    """Half of the belief is settled today; the day said is that of the other half alone."""
    laws, taus = np.array([settling.EXPONENTIAL, settling.EXPONENTIAL]), np.array([30.0, 30.0])
    unit = settling.reach(laws, taus, np.array([90.0]), 28.0)
    rates = np.array([[0.1, 1.4]]) / unit
    halves = Courses(np.array([[0.5, 0.5]]), rates, np.full((1, 2), 1e-7), laws, taus, np.array([90.0]))
    half = settling_day(halves, 0.7, AHEAD)
    assert half[0][0] == pytest.approx(30 * math.log(2), abs=2.0)
    assert half[1][0] > 15.0


def test_a_change_stays_within_until_it_has_grown_to_the_margin() -> None:
    """An even rate of 0.01 mm a day reaches 0.7 mm on day 70; doubt of a fifth brings that forward by 1.28 sd."""
    days, one = np.arange(1.0, 200.0), np.ones((1, 1))
    course = np.array([settling.EVEN]), np.ones(1), np.array([100.0])
    assert stays_within(Courses(one, one * 0.0099, one * 1e-9, *course), 0.7, days)[0] == 70.0
    assert stays_within(Courses(one, -one * 0.0099, one * 1e-9, *course), 0.7, days)[0] == 70.0
    assert stays_within(Courses(one, one * 0.01, one * 0.002, *course), 0.7, days)[0] == math.floor(
        0.7 / (0.01 + 1.2816 * 0.002)
    )
    assert stays_within(Courses(one, one * 2.0, one * 1e-9, *course), 0.7, days)[0] == 0.0
