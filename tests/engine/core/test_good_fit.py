"""Days of good fit: against counting them day by day on a known course, and what must hold for any belief."""

from __future__ import annotations

import numpy as np
import pytest

from plytide.engine.core import good_fit
from plytide.engine.core.good_fit import Aim, best_cast, best_two_casts, by_law, days_of_good_fit, paths_of, quantiles
from plytide.engine.core.settling import EVEN, EXPONENTIAL, LOG_TIME, reach, until

AIM = Aim(band=1.4, horizon=365, delivery=14)
FINE = np.arange(0.0, 365.0, 0.05)


def sure(law: int, tau: float, age: float, change: float, rate: float) -> good_fit.Paths:
    """A limb of which everything is known."""
    one = np.array([[1.0]])
    members = one, one * change, one * rate, one * 1e-14, one * 1e-16, one * 0.0
    return paths_of(by_law(good_fit.ByLaw(*members, np.array([law]), np.array([tau]), np.array([age]))))


def counted(law: int, tau: float, age: float, change: float, rate: float, plan: tuple[int, ...]) -> float:
    """The same by looking at every moment of the year."""
    args = np.array([law]), np.array([tau]), np.array([age])
    course = rate * reach(*args, FINE)
    made_for = np.full(len(FINE), -change)
    for cast in plan:
        made_for[FINE >= cast + AIM.delivery] = rate * float(reach(*args, float(cast))[0])
    return float(np.mean(np.abs(course - made_for) <= AIM.band) * 365.0)


LAWS = [(EXPONENTIAL, 25.0), (EXPONENTIAL, 90.0), (LOG_TIME, 1.0), (EVEN, 1.0)]


@pytest.mark.parametrize("plan", [(), (0,), (60,), (0, 21), (14, 150), (340,)])
@pytest.mark.parametrize(("change", "rate"), [(0.0, 0.05), (1.6, 0.03), (-1.0, 0.08), (-2.0, 0.05), (0.3, -0.04)])
@pytest.mark.parametrize(("law", "tau"), LAWS)
def test_days_in_closed_form_are_those_counted(
    law: int, tau: float, change: float, rate: float, plan: tuple[int, ...]
) -> None:
    paths = sure(law, tau, 70.0, change, rate)
    said = days_of_good_fit(paths, [plan], AIM)[0, 0]
    assert said == pytest.approx(counted(law, tau, 70.0, change, rate, plan), abs=0.25)


@pytest.mark.parametrize(("law", "tau"), LAWS)
def test_until_is_the_inverse_of_reach(law: int, tau: float) -> None:
    args = np.array([law]), np.array([tau]), np.array([70.0])
    for days in (0.0, 3.0, 40.0, 200.0):
        assert until(*args, reach(*args, days))[0] == pytest.approx(days, abs=1e-6)
    assert until(np.array([EXPONENTIAL]), np.array([25.0]), np.array([70.0]), np.array([25.1]))[0] == np.inf


def test_the_best_day_of_a_known_course_is_the_one_found_by_trying_all() -> None:
    course = (EXPONENTIAL, 60.0, 70.0, 1.5, 0.08)
    best = best_cast(sure(*course), AIM)
    days = [counted(*course, (cast,)) for cast in good_fit.CASTS]
    assert best.day[0].tolist() == [good_fit.CASTS[int(np.argmax(days))]] * 3
    assert best.days[0, 0] == pytest.approx(max(days), abs=0.3)
    assert best.now[0, 0] == pytest.approx(days[0], abs=0.3)
    assert best.later[0, 0] == pytest.approx(counted(*course, (21,)), abs=0.3)
    assert best.two_step[0, 0] == pytest.approx(counted(*course, (0, 21)), abs=0.3)


def test_the_best_two_casts_of_a_known_course_are_those_found_by_trying_all() -> None:
    course = (EXPONENTIAL, 60.0, 70.0, 1.5, 0.12)
    first, second = best_two_casts(sure(*course), AIM)
    every = [counted(*course, (a, a + gap)) for a in good_fit.FIRSTS for gap in good_fit.GAPS]
    assert counted(*course, (int(first[0]), int(second[0]))) >= max(every) - 1.0


def test_where_no_later_day_is_better_the_best_is_today() -> None:
    """A limb that keeps still in a socket that no longer fits; and one that fits and keeps still."""
    for change in (2.0, 0.0):
        best = best_cast(sure(EVEN, 1.0, 400.0, change, 1e-6), AIM)
        assert best.day[0].tolist() == [0.0, 0.0, 0.0]
    assert best.days[0, 0] == pytest.approx(365.0)


def belief(rows: int, seed: int) -> good_fit.Paths:
    rng = np.random.default_rng(seed)
    law = np.array([EXPONENTIAL, EXPONENTIAL, LOG_TIME, EVEN, LOG_TIME])
    tau = np.array([20.0, 60.0, 1.0, 1.0, 1.0])
    weight = rng.dirichlet(np.ones(5), rows)
    d, r = rng.normal(1.0, 0.5, (rows, 5)), rng.normal(0.03, 0.02, (rows, 5))
    vd, vr = rng.uniform(0.01, 0.2, (rows, 5)), rng.uniform(1e-6, 1e-4, (rows, 5))
    shared = rng.uniform(-0.9, 0.9, (rows, 5)) * np.sqrt(vd * vr)
    return paths_of(by_law(good_fit.ByLaw(weight, d, r, vd, vr, shared, law, tau, rng.uniform(40, 300, rows))))


def test_paths_have_the_moments_of_the_members() -> None:
    rng = np.random.default_rng(3)
    weight = np.array([[0.3, 0.7]])
    d, r = rng.normal(size=(1, 2)), rng.normal(size=(1, 2))
    vd, vr, shared = np.array([[0.5, 0.2]]), np.array([[0.3, 0.4]]), np.array([[0.1, -0.2]])
    laws = np.array([EVEN, EVEN]), np.ones(2), np.array([100.0])
    paths = paths_of(by_law(good_fit.ByLaw(weight, d, r, vd, vr, shared, *laws)))
    assert paths.weight.sum() == pytest.approx(1.0)
    rate = np.broadcast_to(paths.rate[..., None], paths.change.shape)

    def mean(x: np.ndarray) -> float:
        return float((paths.weight * x).sum())

    both = float((weight * (shared + d * r)).sum())
    assert mean(rate) == pytest.approx(float((weight * r).sum()))
    assert mean(rate**2) == pytest.approx(float((weight * (vr + r**2)).sum()))
    assert mean(paths.change**2) == pytest.approx(float((weight * (vd + d**2)).sum()))
    assert mean(rate * paths.change) == pytest.approx(both)


def test_for_any_belief_ranges_are_in_order_and_the_best_is_no_worse_than_the_rest() -> None:
    best = best_cast(belief(100, 1), AIM)
    for said in (best.days, best.now, best.later, best.two_step):
        assert np.all((said[:, 1] <= said[:, 0]) & (said[:, 0] <= said[:, 2]))
        assert np.all((said >= 0.0) & (said <= 365.0))
    assert np.all(best.days[:, 0] >= np.maximum(best.now[:, 0], best.later[:, 0]) - good_fit.NO_BETTER)
    assert np.all((best.day[:, 1] <= best.day[:, 0]) & (best.day[:, 0] <= best.day[:, 2]))


def test_a_wider_band_never_costs_days_and_a_later_delivery_of_a_socket_that_no_longer_fits_never_gains_any() -> None:
    paths = belief(50, 2)
    narrow, wide = (days_of_good_fit(paths, [(0,), (30,)], Aim(band, 365, 14)) for band in (0.7, 1.4))
    assert np.all(wide >= narrow - 1e-9)
    gone = sure(EVEN, 1.0, 400.0, 3.0, 0.002)
    soon, late = (days_of_good_fit(gone, [(0,)], Aim(1.4, 365, days))[0, 0] for days in (7, 28))
    assert soon == pytest.approx(late + 21.0)


def test_quantiles_are_those_of_the_weighted_values() -> None:
    low, high = quantiles(np.array([[5.0, 1.0, 3.0]]), np.array([[0.06, 0.06, 0.88]]))
    assert (low[0], high[0]) == (1.0, 5.0)
    low, high = quantiles(np.array([[5.0, 1.0, 3.0]]), np.array([[0.04, 0.04, 0.92]]))
    assert (low[0], high[0]) == (3.0, 3.0)


def test_every_law_can_be_looked_along_for_a_year() -> None:
    for law, tau in LAWS:
        paths = sure(law, tau, 7.0, 0.0, 0.5)
        assert np.isfinite(best_cast(paths, AIM).days).all()
