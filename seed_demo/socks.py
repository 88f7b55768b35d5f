"""The socks an invented wearer owns, and the stacks made of them, thinnest first."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

# Loaded thickness in mm. 1, 3 and 5 ply: Sanders et al. 2012 (Prosthet Orthot Int 36:77), as reported in
# its abstract. The rest is judgement, as is the idea that thicknesses of stacked socks add.
MM = {
    "single": {0: 0.3, 1: 0.7, 2: 0.95, 3: 1.2, 5: 1.5, 6: 1.7},
    "blend": {0: 0.2, 1: 0.4, 2: 0.55, 3: 0.7, 5: 0.8, 6: 0.9},
}

Stack = tuple[int, ...]  # plies, thickest first


def thickness_mm(stack: Stack, make: str, scale: float = 1.0) -> float:
    """Sum over the socks; `scale` is how this wearer's own socks differ from the bench."""
    return scale * sum(MM[make][ply] for ply in stack)


def ladder(owned: Mapping[int, int], make: str, most: int, step_mm: float = 0.22) -> list[Stack]:
    """The stacks a wearer learns to use: each thicker by `step_mm` or more, in as few socks as will do."""
    plies = sorted(owned, reverse=True)
    counts = product(*(range(owned[ply] + 1) for ply in plies))
    stacks = [sum(((ply,) * n for ply, n in zip(plies, chosen, strict=True)), ()) for chosen in counts]
    usable = sorted((s for s in stacks if len(s) <= most), key=lambda s: (thickness_mm(s, make), len(s)))
    rungs: list[Stack] = []
    for stack in usable:
        here = thickness_mm(stack, make)
        if rungs and here - thickness_mm(rungs[-1], make) < step_mm:
            if len(stack) < len(rungs[-1]) and len(rungs) > 1:
                rungs[-1] = stack
            continue
        rungs.append(stack)
    return rungs


def nearest(rungs: list[Stack], make: str, need_mm: float, scale: float = 1.0) -> int:
    """Index of the rung closest to the need."""
    return min(range(len(rungs)), key=lambda i: abs(thickness_mm(rungs[i], make, scale) - need_mm))
