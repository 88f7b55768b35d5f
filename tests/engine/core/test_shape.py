"""A limb comes out of a socket only if nothing lower down is wider than anything higher up."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from plytide.engine.core.shape import WIDER_SHARE, Bulge, bulge


def levels(*girths: float) -> list[tuple[float, float]]:
    return [(40.0 * n, girth) for n, girth in enumerate(girths)]


def test_a_middle_wider_than_what_is_above_it_bulges() -> None:
    assert bulge(levels(321, 357, 332)) == Bulge((40.0, 357), (80.0, 332))


def test_an_end_wider_than_a_level_further_up_bulges_whatever_lies_between() -> None:
    assert bulge(levels(330, 340, 310)) == Bulge((40.0, 340), (80.0, 310))
    assert bulge(levels(330, 335, 320)) == Bulge((40.0, 335), (80.0, 320))
    assert bulge(levels(340, 341, 333)) == Bulge((40.0, 341), (80.0, 333))


@pytest.mark.parametrize("girths", [(240, 280, 310, 330), (300, 300, 300), (305, 300, 300), (300,), ()])
def test_cones_cylinders_and_what_the_tape_can_not_tell_do_not_bulge(girths: tuple[float, ...]) -> None:
    assert bulge(levels(*girths)) is None


def test_the_order_in_which_levels_were_entered_does_not_matter() -> None:
    for order in permutations(levels(321, 357, 332)):
        assert bulge(order) == Bulge((40.0, 357), (80.0, 332))


def test_it_is_the_same_as_looking_at_every_pair() -> None:
    rng = np.random.default_rng(1)
    for _ in range(300):
        taken = levels(*(float(girth) for girth in rng.integers(290, 320, int(rng.integers(0, 7)))))
        pairs = [(low, high) for low in taken for high in taken if high[0] > low[0]]
        assert (bulge(taken) is not None) == any(low[1] > WIDER_SHARE * high[1] for low, high in pairs)


def test_what_can_least_come_out_is_named_though_another_level_is_wider() -> None:
    found = bulge([(0, 250), (40, 240), (80, 300), (120, 290)])
    assert found is not None
    assert (found.below, found.above) == ((0, 250), (40, 240))
