"""How a person does with the limb, measured at the clinic."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.limb import seen_limb
from plytide.http.route import Routes, checked_body
from plytide.storage.sqlite import write
from plytide.wire.outcome_measure import OutcomeMeasureSchema
from plytide.work import outcome_measure

route = Routes("outcome_measure", "/api/clinic")


@route("POST", "/limbs/<limb_id>/outcome-measures", STAFF, body=OutcomeMeasureSchema, done=201)
def add(limb_id: str) -> Response:
    """Comfort, a timed walk, the two-minute walk, or the timed up-and-go, of a day."""
    seen_limb(limb_id)
    given = checked_body()
    with write(clinic_db()) as db:
        row_id = outcome_measure.add(db, limb_id, given, who().id, settings().now())
    return answer({"id": row_id}, 201)


@route("DELETE", "/outcome-measures/<outcome_measure_id>", STAFF)
def take_out(outcome_measure_id: str) -> Response:
    """A mistake: it stays to be read in the file, and stands no more."""
    with write(clinic_db()) as db:
        limb_id = outcome_measure.take_out(db, outcome_measure_id, who().id, settings().now())
    return answer({"id": outcome_measure_id, "limb_id": limb_id, "taken_out": True})
