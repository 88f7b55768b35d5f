"""A tape measurement, and what is worked out from it."""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth.guards import STAFF
from plytide.engine.core.limb_volume import tape_volume
from plytide.http.entry import add_for_limb
from plytide.http.limb import seen_limb
from plytide.http.route import Routes
from plytide.model import TapeHeard
from plytide.storage.rows import Row
from plytide.wire import nouns
from plytide.wire.measurement import MeasurementSchema

route = Routes("measurement", "/api/clinic", called="entry")


def measured(row: Row) -> dict[str, Any]:
    """A measurement with its truncated-cone volume and the tape's own error, where there are levels enough."""
    known = nouns.measurement(row)
    levels = [(level["from_end_mm"], level["circumference_mm"]) for level in row["levels"]]
    volume = tape_volume(levels) if len(levels) > 1 else None
    return known | {
        "volume_ml": round(volume.ml, 1) if volume else None,
        "volume_error_ml": round(volume.error_ml, 1) if volume else None,
    }


def tape_to_json(tape: TapeHeard) -> dict[str, Any]:
    """A tape measurement beside the one before, what it may be off by, and what it did to the estimate."""
    return {
        "since": tape.since.isoformat() if tape.since else None,
        "change_pct": tape.change_pct,
        "limit_pct": tape.limit_pct,
        "same_hand": tape.same_hand,
        "beyond": tape.beyond,
        "moved_pct": tape.moved_pct,
        "total_since": tape.total_since.isoformat() if tape.total_since else None,
        "total_pct": tape.total_pct,
        "total_limit_pct": tape.total_limit_pct,
        "total_beyond": tape.total_beyond,
    }


@route("POST", "/limbs/<limb_id>/measurements", STAFF, body=MeasurementSchema, done=201)
def add_measurement(limb_id: str) -> Response:
    seen_limb(limb_id)
    return add_for_limb("measurement", limb_id)
