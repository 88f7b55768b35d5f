"""What the clinic's own record shows: its figures with their intervals, as a page and as a file."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.engine import own_record
from plytide.engine.volume.constants import AIM
from plytide.export.own_record_csv import to_csv
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.records import as_file
from plytide.http.route import CSV, Routes
from plytide.storage import own_record as kept

route = Routes("own_record", "/api/clinic")


def _counted() -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """(the figures, the case mix they are made of)."""
    db = clinic_db()
    today = settings().now().date()
    rows = list(kept.limbs(db, today))
    limbs = [own_record.LimbRecord(person_id, history, said) for person_id, _, history, said in rows]
    matters = [own_record.Matter(*one) for one in kept.told(db)]
    found = [asdict(figure) for figure in own_record.figures(limbs, matters, today)]
    levels = Counter(level for _, level, *_ in rows)
    mix = {
        "people": len({limb.person_id for limb in limbs}),
        "limbs": len(limbs),
        "levels": dict(sorted(levels.items())),
    }
    return found, mix


@route("GET", "/own-record", STAFF, cost="heavy")
def own_record_() -> Response:
    """What the clinic's own record shows, with intervals; under five people no figure. Nobody of the staff is named."""
    found, mix = _counted()
    record_read("own-record.read", "all limbs")
    return answer(
        {
            "as_of": settings().now().date().isoformat(),
            "least_people": own_record.LEAST_PEOPLE,
            "band_mm": AIM.band,
            "case_mix": mix,
            "figures": found,
        }
    )


@route("GET", "/own-record.csv", STAFF, cost="heavy", gives=CSV)
def own_record_csv() -> Response:
    found, _ = _counted()
    record_read("own-record.export", "all limbs")
    return as_file(to_csv(found), "text/csv; charset=utf-8", "own-record.csv")
