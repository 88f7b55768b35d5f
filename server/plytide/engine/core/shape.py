"""Whether a residual limb can be drawn out of a stiff socket: from its circumferences, all of them.

What lies further down must pass through what lies further up. So no level may be wider than any level above it,
by more than the tape is off: one that is can't come out, wherever on the limb it lies (common practice for the
distal end; for every level it is the same geometry).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

WIDER_SHARE = 1.02  # wider by more than the tape's own error, 5 to 6 mm at 300 mm: judgement


@dataclass(frozen=True, slots=True)
class Bulge:
    """A level and the narrowest one above it; (distance from the end, circumference) in mm each."""

    below: tuple[float, float]
    above: tuple[float, float]


def bulge(levels: Sequence[tuple[float, float]]) -> Bulge | None:
    """The level that is wider than one above it by the largest share; None where none is, by more than the tape's
    error.

    (Distance from the end, circumference) in mm, in any order.
    """
    ordered = sorted(levels)
    pairs = [Bulge(below, min(ordered[n + 1 :], key=lambda level: level[1])) for n, below in enumerate(ordered[:-1])]
    wide = [pair for pair in pairs if pair.below[1] > WIDER_SHARE * pair.above[1]]
    return max(wide, key=lambda pair: pair.below[1] / pair.above[1], default=None)
