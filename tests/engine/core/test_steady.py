"""The steady claim is two one-sided tests, held for some days.

One worked equivalence test is published with its t and its p: the Eskine replication, printed in the vignette of the R
package TOSTER (Lakens, Soc Psychol Personal Sci 2017;8:355-362): t(182) = -2.69, p = 0.004, equivalent. Of the two
others only the inputs and the conclusion are printed; their t and p are computed, and so they are no published numbers.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import integrate, stats

from plytide.engine.core.steady import equivalent, steady_days
from tests.engine.core.published import table

EXAMPLES = table("tost_examples.json")


def one_sided(inputs: dict[str, Any]) -> tuple[float, float, float, float, float]:
    """(t below, p below, t above, p above, degrees of freedom) from what a paper prints: means, sds, counts, bounds."""
    if "mu" in inputs:  # one group against a value
        se, df, gap = inputs["sd"] / math.sqrt(inputs["n"]), inputs["n"] - 1, inputs["m"] - inputs["mu"]
    else:
        n1, n2, v1, v2 = inputs["n1"], inputs["n2"], inputs["sd1"] ** 2, inputs["sd2"] ** 2
        gap = inputs["m1"] - inputs["m2"]
        if inputs["equal_var"]:
            df = n1 + n2 - 2
            se = math.sqrt(((n1 - 1) * v1 + (n2 - 1) * v2) / df * (1 / n1 + 1 / n2))
        else:  # Welch
            a, b = v1 / n1, v2 / n2
            se, df = math.sqrt(a + b), (a + b) ** 2 / (a**2 / (n1 - 1) + b**2 / (n2 - 1))
    high = inputs.get("high", inputs.get("raw_bound"))
    low = inputs.get("low", -high)
    below, above = (gap - low) / se, (gap - high) / se
    return below, float(stats.t.sf(below, df)), above, float(stats.t.cdf(above, df)), df


def test_the_published_example_has_its_printed_t_and_p_and_is_equivalent() -> None:
    """Eskine: t(182) = -2.69, p = 0.004. The printed means and sds are rounded, hence a hundredth on t."""
    example = EXAMPLES["eskine_replication"]
    assert example["printed"] == "t(182) = -2.69, p = 0.004 (equivalent)" and example["status"] == "confirmed"
    _, p_below, t_above, p_above, df = one_sided(example["inputs"])
    assert (df, t_above, round(max(p_below, p_above), 3)) == (182, pytest.approx(-2.69, abs=0.01), 0.004)
    above, below = np.array([p_above]), np.array([p_below])
    assert equivalent(above, below).all()
    # Equivalent at 0.4 % and not at 0.3 %: the claim turns on the printed p, not on some smaller one.
    assert equivalent(above, below, 0.0045).all() and not equivalent(above, below, 0.0035).any()


@pytest.mark.parametrize("name", ["iq_welch", "one_sample"])
def test_two_more_worked_out_here_come_to_the_conclusion_that_is_printed(name: str) -> None:
    """Computed: only "equivalent" is printed of them."""
    assert EXAMPLES[name]["status"] == "inputs and conclusion confirmed; numbers computed here"
    _, p_below, _, p_above, _ = one_sided(EXAMPLES[name]["inputs"])
    assert equivalent(np.array([p_above]), np.array([p_below])).all()


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
def test_power_without_a_trend_is_the_formula_of_two_one_sided_tests(ratio: float, power: float) -> None:
    """2 F(m/se - z.95) - 1; the values are computed from the formula, not printed anywhere we saw."""

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
