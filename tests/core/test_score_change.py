"""Comfort and pain: which change is more than noise.

Sources: Farrar et al. 2001 (Pain 94:149-158, confirmed), Prosthesis 2025;7(3):53 (confirmed); the standard error of
the comfort score is from memory (Hafner et al. 2016, study confirmed, numbers not seen).
"""

from __future__ import annotations

import pytest

from plytide.core.score_change import (
    COMFORT_SEM,
    comfort_differs,
    minimal_detectable_change,
    pain_change,
    refit_succeeded,
)


@pytest.mark.parametrize(("confidence", "points"), [(0.90, 2.72), (0.95, 3.24)])
def test_minimal_detectable_change_of_comfort(confidence: float, points: float) -> None:
    """T13b: 1.17 · z · √2; the formula is confirmed arithmetic, 1.17 from memory."""
    assert minimal_detectable_change(COMFORT_SEM, confidence) == pytest.approx(points, abs=0.005)


@pytest.mark.parametrize(("after", "at_90", "at_95"), [(6, False, False), (5, True, False), (4, True, True)])
def test_two_single_comfort_scores(after: float, at_90: bool, at_95: bool) -> None:
    """T13: 8 → 6 is within the noise, 8 → 5 beyond it at 90 % and not at 95 %."""
    assert (comfort_differs(8, after), comfort_differs(8, after, 0.95)) == (at_90, at_95)


@pytest.mark.parametrize(("after", "succeeded"), [(7.1, True), (7.0, False), (3.1, False)])
def test_weekly_comfort_after_a_refit(after: float, succeeded: bool) -> None:
    """T14: 5.1 → 7.1 meets "improved" (Prosthesis 2025;7(3):53)."""
    assert refit_succeeded(5.1, after) is succeeded


@pytest.mark.parametrize(
    ("before", "after", "points", "share", "better"),
    [(6, 4, True, True, True), (3, 2, False, True, False), (9, 7, True, False, False), (0, 0, False, False, False)],
)
def test_less_pain(before: float, after: float, points: bool, share: bool, better: bool) -> None:
    """T15 (Farrar et al. 2001): points and percent are two rules, and both are asked for."""
    change = pain_change(before, after)
    assert (change.points, change.share, change.better) == (points, share, better)


@pytest.mark.parametrize(("after", "worse"), [(4.9, False), (5, True), (1, False)])
def test_more_pain(after: float, worse: bool) -> None:
    assert pain_change(3, after).worse is worse
