"""Millimetres of a sock stack, with how sure we are. Ply labels do not add up; thicknesses roughly do.

Thickness under walking-stance load: Sanders, Cagle, Harrison, Karchin (2012), Amputee socks: how does sock ply
relate to sock thickness?, Prosthet Orthot Int 36(1):77-86. Socks of one material: 1-ply 0.7, 3-ply 1.2, 5-ply
1.5 mm; blends of several materials: 0.4, 0.7, 0.8 mm. All else in the table is judgement, and says so.

Not every series has more ply thicker: unloaded on three foam limbs Jasken & Hall (J Prosthet Orthot 2018;30(3):140-4)
found that a 5-ply added less volume (8.83 %) than a 3-ply (10.42 %; not significantly different). The table keeps the
order of the loaded series, since socks are worn loaded: judgement. A wearer whose 5-ply is the thinner one reads as a
small change that is not there, which the 15 % below and a new baseline with new socks are for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Protocol


class SockLike(Protocol):
    """One sock: `ply` on its label (0 is a nylon sheath), `make` single, blend or unknown."""

    @property
    def ply(self) -> int: ...
    @property
    def make(self) -> str: ...


# (mm, standard uncertainty). Socks of one label differ between makers; the published table gives no spread, so
# 15 % is judgement, and more where the thickness itself is.
SINGLE: dict[int, tuple[float, float]] = {
    0: (0.2, 0.15),  # judgement: a nylon sheath counts as 0 or less than 1 ply in the trade
    1: (0.7, 0.105),  # Sanders 2012
    2: (0.95, 0.19),  # judgement: between 1 and 3
    3: (1.2, 0.18),  # Sanders 2012
    5: (1.5, 0.225),  # Sanders 2012
    6: (1.65, 0.45),  # judgement: beyond the table, so wide
}
BLEND: dict[int, tuple[float, float]] = {
    0: (0.2, 0.15),  # judgement
    1: (0.4, 0.06),  # Sanders 2012
    2: (0.55, 0.11),  # judgement: between 1 and 3
    3: (0.7, 0.105),  # Sanders 2012
    5: (0.8, 0.12),  # Sanders 2012
    6: (0.85, 0.3),  # judgement
}


def _between(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """Make not known: half way, with an uncertainty that covers both (a two-point mixture's variance)."""
    middle = (one[0] + other[0]) / 2
    variance = ((one[0] - other[0]) / 2) ** 2 + (one[1] ** 2 + other[1] ** 2) / 2
    return middle, math.sqrt(variance)


TABLE: dict[str, dict[int, tuple[float, float]]] = {
    "single": SINGLE,
    "blend": BLEND,
    "unknown": {ply: _between(SINGLE[ply], BLEND[ply]) for ply in SINGLE},
}


def stack_thickness(stack: Iterable[SockLike]) -> tuple[float, float]:
    """(mm, standard uncertainty in mm) of a stack: the sum of its socks.

    That stacked socks add is shown for unloaded socks on foam (Jasken & Hall 2018, within one percentage point)
    and taken as an approximation. Errors of one make go the same way, so they are added, not squared.
    """
    total, spread = 0.0, 0.0
    for sock in stack:
        mm, uncertainty = TABLE[sock.make][sock.ply]
        total += mm
        spread += uncertainty
    return total, spread
