"""The steady claim is two one-sided tests, held for some days.

Worked equivalence tests: Lakens 2017 and the TOSTER vignette (inputs and conclusions confirmed, numbers computed).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from plytide.core.steady import equivalent, steady_days
from tests.core.published import table


def tails(name: str) -> tuple[np.ndarray, np.ndarray]:
    """Chance beyond each bound of the worked example."""
    computed = table("tost_examples.json")[name]["computed"]
    return np.array([computed["p_upper"]]), np.array([computed["p_lower"]])


@pytest.mark.parametrize("name", ["eskine_replication", "iq_welch", "one_sample"])
def test_the_worked_examples_are_equivalent(name: str) -> None:
    assert equivalent(*tails(name)).all()


def test_both_tails_must_be_small() -> None:
    assert not equivalent(np.array([0.2]), np.array([0.0]))[0]
    assert not equivalent(np.array([0.0]), np.array([0.2]))[0]


def test_the_claim_is_the_90_percent_interval_inside_the_margin() -> None:
    """TOST at 5 % says the same as the 90 % interval inside (identity in the reference file)."""
    mean, sd, margin = np.linspace(-1, 1, 81), 0.2, 0.7
    above, below = stats.norm.sf(margin, mean, sd), stats.norm.cdf(-margin, mean, sd)
    half = stats.norm.ppf(0.95) * sd
    inside = (mean - half > -margin) & (mean + half < margin)
    assert np.array_equal(equivalent(above, below), inside)


@pytest.mark.parametrize(("ratio", "power"), [(2.0, 0.2776), (2.5, 0.6075), (2.927, 0.8002), (3.29, 0.9001)])
def test_power_without_a_trend_is_the_published_formula(ratio: float, power: float) -> None:
    """2 F(m/se - z.95) - 1, the table's values."""

    def called(estimate: float) -> float:
        above = np.array([stats.norm.sf(ratio - estimate)])
        below = np.array([stats.norm.cdf(-ratio - estimate)])
        return float(equivalent(above, below)[0]) * float(stats.norm.pdf(estimate))

    grid = np.linspace(-6, 6, 24001)
    found = integrate.trapezoid([called(x) for x in grid[::8]], grid[::8])
    assert found == pytest.approx(power, abs=2e-3)
    assert table("tost_examples.json")["z_power"]["values"][str(ratio) if ratio != 2.0 else "2"] == pytest.approx(
        power, abs=1e-4
    )


def days(above: list[float], allowed: list[bool] | None = None, **changes: float) -> tuple[list[bool], list[int]]:
    column = np.array(above)[:, None]
    ok = np.ones_like(column, bool) if allowed is None else np.array(allowed)[:, None]
    settings = {"enter": 0.05, "leave": 0.10, "hold": 3} | changes
    state, since = steady_days(column, 0 * column, ok, **settings)
    return state[:, 0].tolist(), since[:, 0].tolist()


def test_three_days_in_a_row_are_needed() -> None:
    state, since = days([0.01, 0.01, 0.2, 0.01, 0.01, 0.01, 0.01])
    assert state == [False] * 5 + [True, True]
    assert since == [-1] * 5 + [5, 5]


def test_the_claim_stays_until_a_tail_passes_the_leaving_chance() -> None:
    state, _ = days([0.01, 0.01, 0.01, 0.07, 0.09, 0.12, 0.01])
    assert state == [False, False, True, True, True, False, False]


def test_a_day_not_allowed_ends_the_claim_and_the_count() -> None:
    state, _ = days([0.01] * 6, [True, True, True, False, True, True])
    assert state == [False, False, True, False, False, False]


def test_the_other_tail_counts_the_same() -> None:
    column = np.full((4, 1), 0.01)
    state, _ = steady_days(0 * column, column * 20, np.ones_like(column, bool), enter=0.05, leave=0.1, hold=1)
    assert not state.any()
