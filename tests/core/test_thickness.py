"""Sock thickness and percent of volume against the published figures.

Sanders et al. 2012 (Prosthet Orthot Int 36(1):77-86): thickness under walking-stance load, values confirmed.
Jasken & Hall 2018 (J Prosthet Orthot 30(3):140-144): volume added by unloaded socks on foam, values confirmed.
"""

from __future__ import annotations

import math

import pytest

from plytide.core.limb_volume import millimetres_of_sock, percent_of_volume
from plytide.core.thickness import TABLE, sock_thickness, stack_thickness
from plytide.model import MAKES, PLIES, Sock


@pytest.mark.parametrize(
    ("make", "ply", "mm"),
    [
        ("single", 1, 0.7),
        ("single", 3, 1.2),
        ("single", 5, 1.5),
        ("blend", 1, 0.4),
        ("blend", 3, 0.7),
        ("blend", 5, 0.8),
    ],
)
def test_thickness_under_load_is_the_published_one(make: str, ply: int, mm: float) -> None:
    assert sock_thickness(ply, make)[0] == mm


@pytest.mark.parametrize(("mm", "percent"), [(0.7, 2.95), (1.2, 5.09), (1.5, 6.38), (0.4, 1.68), (0.8, 3.38)])
def test_percent_of_volume_at_300_mm(mm: float, percent: float) -> None:
    """Derived from the published thickness by (1 + t/r)² − 1 (facts T8, T8b)."""
    assert percent_of_volume(mm, 300) == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(("circumference", "percent"), [(250, 3.55), (450, 1.96)])
def test_percent_falls_with_circumference(circumference: float, percent: float) -> None:
    assert percent_of_volume(0.7, circumference) == pytest.approx(percent, abs=0.005)


def test_stacks_that_both_say_5_ply_are_not_equal() -> None:
    """Facts T9: 3+1+1 is 2.6 mm (11.19 %), one 5-ply 1.5 mm (6.38 %)."""
    stack = [Sock(3, "single"), Sock(1, "single"), Sock(1, "single")]
    assert stack_thickness(stack)[0] == pytest.approx(2.6)
    assert percent_of_volume(2.6, 300) == pytest.approx(11.19, abs=0.005)
    assert stack_thickness([Sock(5, "single")])[0] == 1.5


def test_adding_thickness_predicts_stacked_unloaded_socks() -> None:
    """Jasken & Hall 2018: 10.42 % (3-ply) and 7.15 % (2-ply) stacked gave 18.33 %; 5.19 and 7.15 gave 11.68 %.

    The sum of single thicknesses predicts each within about a percentage point, whatever the limb's size.
    """
    for circumference in (250, 300, 400):
        for singles, observed in (((10.42, 7.15), 18.33), ((5.19, 7.15), 11.68)):
            mm = sum(millimetres_of_sock(percent, circumference) for percent in singles)
            assert percent_of_volume(mm, circumference) == pytest.approx(observed, abs=1.0)


def test_percent_and_millimetres_are_inverse() -> None:
    for mm in (-3.0, 0.0, 0.4, 6.5):
        assert millimetres_of_sock(percent_of_volume(mm, 310), 310) == pytest.approx(mm, abs=1e-12)


def test_every_sock_of_the_picker_has_a_thickness_that_grows_with_ply() -> None:
    for make in MAKES:
        thicknesses = [sock_thickness(ply, make) for ply in PLIES]
        assert [mm for mm, _ in thicknesses] == sorted(mm for mm, _ in thicknesses)
        assert all(0 < uncertainty < mm for mm, uncertainty in thicknesses)


def test_a_make_not_known_covers_both_tables() -> None:
    for ply in PLIES:
        mm, uncertainty = TABLE["unknown"][ply]
        assert mm == pytest.approx((TABLE["single"][ply][0] + TABLE["blend"][ply][0]) / 2)
        assert uncertainty >= abs(TABLE["single"][ply][0] - TABLE["blend"][ply][0]) / 2


def test_doubt_adds_up_as_the_socks_do() -> None:
    one = stack_thickness([Sock(1, "single")])[1]
    assert stack_thickness([Sock(1, "single")] * 3)[1] == pytest.approx(3 * one)
    assert stack_thickness([]) == (0, 0)


@pytest.mark.parametrize("circumference", [0, -1, math.nan])
def test_a_circumference_that_is_none_is_refused(circumference: float) -> None:
    with pytest.raises(ValueError, match="more than 0 mm"):
        percent_of_volume(0.7, circumference)
