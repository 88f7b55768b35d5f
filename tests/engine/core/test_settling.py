"""The settling laws: calculus, the published curve, and certified fits.

NIST Statistical Reference Datasets (nonlinear regression): certified parameters, confirmed. Weight loss data:
Venables & Ripley 2002 ch. 8 (fit computed with R from the book's script, confirmed by running). Tantua et al.
2014, JRRD 51(7):1119-1126: 9.7 % of initial volume per ln(week), confirmed; what follows from it is derived here.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, optimize

from plytide.engine.core import settling, trend
from plytide.engine.core.bank import make_bank
from plytide.engine.core.settling import EVEN, EXPONENTIAL, LOG_TIME, SLOW, expected_loss, fade, reach
from tests.engine.core.published import table

LAWS = [(EXPONENTIAL, 25.0), (LOG_TIME, 1.0), (EVEN, 1.0), (SLOW, 1.0)]


def of(law: int, tau: float, age: float, ahead: float) -> tuple[float, float]:
    args = np.array([law]), np.array([tau]), np.array([age])
    return float(fade(*args, ahead)[0]), float(reach(*args, ahead)[0])


@pytest.mark.parametrize(("law", "tau"), LAWS)
def test_reach_is_the_integral_of_fade(law: int, tau: float) -> None:
    integral = integrate.quad(lambda h: of(law, tau, 80.0, h)[0], 0, 28)[0]
    assert of(law, tau, 80.0, 28.0)[1] == pytest.approx(integral, rel=1e-9)


@pytest.mark.parametrize(("law", "tau"), LAWS)
def test_two_steps_are_one_long_step(law: int, tau: float) -> None:
    first, second = of(law, tau, 80.0, 10.0), of(law, tau, 90.0, 18.0)
    whole = of(law, tau, 80.0, 28.0)
    assert first[0] * second[0] == pytest.approx(whole[0])
    assert first[1] + first[0] * second[1] == pytest.approx(whole[1])


def test_the_log_law_loses_the_same_per_unit_of_log_time() -> None:
    """A limb that loses k per ln(t) has rate k/t: reach times rate is k ln((t+h)/t)."""
    k, age = 4.0, 63.0
    assert k / age * of(LOG_TIME, 1.0, age, 28.0)[1] == pytest.approx(k * math.log((age + 28) / age))


@pytest.mark.parametrize(("week", "loss"), [(12, 3.68), (16, 2.96), (20, 2.49)])
def test_the_published_curve_loses_as_derived(week: float, loss: float) -> None:
    """Derived from Tantua et al. 2014: 200.5 ml, 9.7 % of the first volume, per ln(week); per cent of the volume at
    that week.
    """
    assert 100 * expected_loss(week) == pytest.approx(loss, abs=0.01)


def test_before_the_first_and_after_the_last_week_measured_the_nearest_end_is_used() -> None:
    assert expected_loss(0.2) == expected_loss(1.0)
    assert expected_loss(60) == expected_loss(24)


def fit(x: np.ndarray, y: np.ndarray, tau: float, start_known: bool) -> tuple[float, float, float]:
    """Level at x=0, B and residual sum of squares of y = level + B (1 - exp(-x/tau)), by the engine's own filter."""
    bank = make_bank(laws=((EXPONENTIAL, tau, 1.0),), wobbles=(1e-9,), rhos=(0.0,), level_noise=0.0, rate_noise=0.0)
    a, p = np.zeros((5, 1, 1)), np.zeros((5, 5, 1, 1))
    scale = float(np.max(np.abs(y)))
    p[trend.D, trend.D] = 0.0 if start_known else 1e6 * scale**2
    p[trend.R, trend.R] = 1e6 * (scale / tau) ** 2
    at, before = np.array([0]), 0.0
    one = np.ones(1)
    for now, value in zip(x, y, strict=True):
        law = np.array([EXPONENTIAL]), np.array([tau]), one
        trend.predict(a, p, settling.fade(*law, now - before)[None], settling.reach(*law, now - before)[None], bank)
        trend.measure(a, p, at, np.array([value]), one * scale * 1e-2, (trend.D,))
        before = now
    b = float(a[trend.R, 0, 0]) * tau * math.exp(before / tau)
    level = float(a[trend.D, 0, 0]) - b * -math.expm1(-before / tau)
    residual = y - level - b * -np.expm1(-x / tau)
    return level, b, float(residual @ residual)


@pytest.mark.parametrize("name", ["Misra1a", "BoxBOD"])
def test_the_filter_finds_the_certified_settling_curve(name: str) -> None:
    """y = b1 (1 - exp(-b2 x)): the least squares tau, b1 and residual sum are NIST's."""
    nist = table("nist_strd_nonlinear.json")["datasets"][name]
    data = np.array(nist["data"], float)
    y, x = data[:, 0], data[:, 1]
    b1, b2 = (float(each["certified"]) for each in nist["parameters"])
    best = optimize.minimize_scalar(
        lambda tau: fit(x, y, tau, True)[2], bounds=(0.5 / b2, 2 / b2), method="bounded", options={"xatol": 1e-9 / b2}
    )
    level, b, rss = fit(x, y, best.x, True)
    assert 1 / best.x == pytest.approx(b2, rel=1e-4)
    assert b == pytest.approx(b1, rel=1e-4)
    assert rss == pytest.approx(float(nist["residual_sum_of_squares"]), rel=1e-6)


def test_the_filter_finds_the_published_weight_loss_curve() -> None:
    """b0 + b1 2^(-t/th) with a free start: Venables & Ripley's fit."""
    book = table("exponential_settling_reference.json")["wtloss"]
    data = np.array(book["data"], float)
    tau = book["tau_equivalent"]
    best = optimize.minimize_scalar(
        lambda t: fit(data[:, 0], data[:, 1], t, False)[2], bounds=(0.6 * tau, 1.6 * tau), method="bounded"
    )
    level, b, rss = fit(data[:, 0], data[:, 1], best.x, False)
    assert best.x == pytest.approx(tau, rel=1e-3)
    assert -b == pytest.approx(book["coef"]["b1"], rel=1e-3)
    assert level + b == pytest.approx(book["coef"]["b0"], rel=1e-3)
    assert rss == pytest.approx(book["rss"], rel=1e-6)
