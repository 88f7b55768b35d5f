"""Anouk's limb in the calls of staff, and a recast planned for it."""

from __future__ import annotations

from tests.actors import Cast

DECISION = {
    "on": "2025-09-15",
    "choice": "diagnostic-then-definitive",
    "planned_on": "2025-10-06",
    "reasons": ["Volume"],
}


def path(cast: Cast, what: str = "") -> str:
    return f"/api/clinic/limbs/{cast.anouk.limb_id}{what}"
