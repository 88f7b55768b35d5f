"""The assessment of a limb, today or by what was known on another day."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import STAFF
from plytide.http.asked import asked_day
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.language import said_assessment
from plytide.http.limb import seen_limb
from plytide.http.route import DAY, Routes
from plytide.model import Assessment, LimbHistory
from plytide.storage import history as histories
from plytide.work import reassess

route = Routes("assessment", "/api/clinic", called="clinic")


def known_by(as_of: date | None) -> str | None:
    """The end of a day in UTC, as the instant by which a check-in must have arrived; None for now."""
    return datetime.combine(as_of + timedelta(days=1), time.min).isoformat() if as_of else None


def assessed(limb_id: str, as_of: date | None) -> tuple[LimbHistory, Assessment]:
    """(its history, what is said of it) today, or on another day by what was known then. Raises 404."""
    history = histories.history(clinic_db(), limb_id, known_by(as_of))
    if history is None:
        raise not_found()
    return history, reassess.current(clinic_db(), history, settings().now(), as_of, known_by(as_of))


@route("GET", "/limbs/<limb_id>/assessment", STAFF, query={"as_of": DAY})
def assessment(limb_id: str) -> Response:
    """The assessment of a limb, today or as it would have been on `as_of`."""
    seen_limb(limb_id)
    as_of = asked_day("as_of")
    _, found = assessed(limb_id, as_of)
    record_read("assessment.read", f"limb:{limb_id}")
    return answer(said_assessment(found))
