"""Truncated-cone volume against bodies whose volume is known exactly (published/limb_volume_bodies.json).

The frustum formula is confirmed (medicalalgorithms.com); no published worked example was found, so analytic bodies
are used. T1 to T7 are the project's own check values, made by the same formula by hand.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from plytide.core.limb_volume import (
    CannotCompare,
    compare,
    distinguishable,
    frustum_volume,
    percent_of_volume,
    spherical_cap,
    swollen_share,
    tape_volume,
)
from plytide.core.reference_curve import change_pct, volume_ml

BODIES: dict[str, Any] = json.loads((Path(__file__).parents[1] / "published" / "limb_volume_bodies.json").read_text())
T4 = [34.0, 33.0, 31.0, 28.0, 24.0]


def levels(circumferences: list[float], h: float) -> list[tuple[float, float]]:
    return [(n * h, c) for n, c in enumerate(circumferences)]


def tape(circumferences_cm: list[float], h_cm: float = 4) -> Any:
    return tape_volume([(10 * n * h_cm, 10 * c) for n, c in enumerate(circumferences_cm)])


@pytest.mark.parametrize("body", BODIES["exact"], ids=lambda body: body["name"])
def test_cylinders_and_cones_are_exact(body: dict[str, Any]) -> None:
    assert frustum_volume(levels(body["C"], body["h"])) == pytest.approx(body["V_exact"], rel=1e-12)


def profile(name: str, z: float) -> float:
    """Radius at height z of the curved bodies, from their published descriptions."""
    if name.startswith("paraboloid"):
        return 5.5 * math.sqrt(1 - 0.9 * z / 18)
    if name.startswith("hemisphere"):
        return math.sqrt(max(36 - z * z, 0))
    if name.startswith("bulging"):
        return 5 + 0.8 * math.sin(math.pi * z / 20)
    return 6 * math.exp(-z / 40)


@pytest.mark.parametrize("body", BODIES["convergence"], ids=lambda body: body["name"])
def test_curved_bodies_converge_as_published(body: dict[str, Any]) -> None:
    for row in body["rows"]:
        circumferences = [2 * math.pi * profile(body["name"], n * row["h"]) for n in range(row["segments"] + 1)]
        volume = frustum_volume(levels(circumferences, row["h"]))
        assert volume == pytest.approx(row["V_frustum"], rel=1e-9)
        assert volume / body["V_exact"] - 1 == pytest.approx(row["rel_err_frustum"], abs=1e-9)


def test_the_rounded_end_is_a_spherical_cap() -> None:
    example = BODIES["cap"]["example"]
    assert spherical_cap(example["h"], example["C"]) == pytest.approx(example["V"], rel=1e-12)


@pytest.mark.parametrize("example", BODIES["ply_geometry"]["examples"], ids=str)
def test_a_sock_of_t_mm_fills_the_published_percent(example: dict[str, Any]) -> None:
    assert percent_of_volume(example["t_mm"], example["C_mm"]) == pytest.approx(example["pct"], rel=1e-9)


@pytest.mark.parametrize(
    ("circumferences", "h", "ml"),
    [
        ([30, 28], 4, 267.80),
        ([30, 30], 10, 716.20),
        ([30, 0], 10, 238.73),
        (T4, 4, 1176.16),
        ([34, 31, 24], 8, 1156.95),
    ],
    ids=["T1", "T2", "T3", "T4", "T7"],
)
def test_worked_examples(circumferences: list[float], h: float, ml: float) -> None:
    assert tape(circumferences, h).ml == pytest.approx(ml, abs=0.01)


@pytest.mark.parametrize(
    ("change", "percent"),
    [(lambda c: c * 0.99, -1.99), (lambda c: c - 1, -6.44), (lambda c: c + 0.5, 3.30), (lambda c: c - 0.5, -3.25)],
    ids=["T5", "T6", "T6b up", "T6b down"],
)
def test_what_a_change_of_circumference_does(change: Any, percent: float) -> None:
    assert compare(tape(T4), tape([change(c) for c in T4])) == pytest.approx(percent, abs=0.01)


def test_the_tapes_own_error_is_that_of_five_millimetres_all_one_way() -> None:
    """T6b: ±5 mm on every level is +3.30 / −3.25 %."""
    volume = tape(T4)
    assert volume.error_ml / volume.ml * 100 == pytest.approx((3.30 + 3.25) / 2, abs=0.01)
    by_three = tape_volume([(40 * n, 10 * c) for n, c in enumerate(T4)], tape_error_mm=3)
    expected = BODIES["error_propagation"]["rel_pct_correlated"]
    assert by_three.error_ml / by_three.ml * 100 == pytest.approx(expected, abs=0.01)


def test_a_quarter_millimetre_of_radius_is_one_percent() -> None:
    """T22: derived from the fit tolerance of made sockets, 0.25 mm (PMC4432940, confirmed)."""
    assert percent_of_volume(0.25, 300) == pytest.approx(1.05, abs=0.005)


def test_levels_at_other_heights_are_not_compared() -> None:
    """T7: the same limb measured every 8 cm is 1.63 % smaller; that is not a change."""
    with pytest.raises(CannotCompare):
        compare(tape(T4), tape([34, 31, 24], 8))
    with pytest.raises(CannotCompare):
        compare(tape(T4, 4), tape(T4, 4.5))


def test_levels_may_come_in_any_order() -> None:
    assert frustum_volume(levels(T4, 4)[::-1]) == frustum_volume(levels(T4, 4))


def test_one_level_has_no_volume() -> None:
    with pytest.raises(ValueError, match="two levels"):
        tape_volume([(0, 240)])


def test_two_hands_can_not_tell_200_ml_apart() -> None:
    """T19, with the reliability coefficient between raters of 256.85 mL (confirmed abstract)."""
    assert not distinguishable(2000, 1800)
    assert distinguishable(2000, 1740)


@pytest.mark.parametrize(("minutes", "share"), [(-1, 0), (0, 0), (2, 0.53), (8, 0.95), (10, 0.976)])
def test_swelling_after_taking_the_socket_off(minutes: float, share: float) -> None:
    """T18: one exponential through "95 % within 8 min in 4 of 6 limbs" (Zachariah et al. 2004, confirmed; derived)."""
    assert swollen_share(minutes) == pytest.approx(share, abs=0.005)


@pytest.mark.parametrize(("week", "ml"), [(4, 1789), (12, 1569), (24, 1430)])
def test_reference_curve(week: float, ml: float) -> None:
    """T11: V(w) = 2067 − 200.5 ln w (Tantua et al. 2014, curve confirmed, first volume derived)."""
    assert volume_ml(week) == pytest.approx(ml, abs=0.5)


@pytest.mark.parametrize(("weeks", "percent"), [((12, 16), -3.68), ((16, 20), -2.96), ((20, 24), -2.49)])
def test_reference_change_over_four_weeks(weeks: tuple[float, float], percent: float) -> None:
    """T12."""
    assert change_pct(*weeks) == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize("week", [0, 0.5, 24.5, 52])
def test_the_curve_is_not_used_where_nothing_was_measured(week: float) -> None:
    with pytest.raises(ValueError, match="weeks 1 to 24"):
        volume_ml(week)
