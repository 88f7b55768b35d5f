"""Parts with a date, which come up as a row before it."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.limb import seen_limb
from plytide.http.route import Routes, checked_body
from plytide.storage import assessment as assessments
from plytide.storage import audit, part
from plytide.storage.sqlite import write
from plytide.wire.part import PartSchema

route = Routes("part", "/api/clinic")


@route("POST", "/limbs/<limb_id>/parts", STAFF, body=PartSchema, done=201)
def add(limb_id: str) -> Response:
    """A part whose warranty or life ends on a date."""
    given, now = checked_body(), settings().now()
    seen_limb(limb_id)
    with write(clinic_db()) as db:
        part_id = part.add(db, limb_id, given["what"], given["ends_on"], who().id, now)
        assessments.mark_stale(db, [limb_id], now)
        audit.record(db, now, f"staff:{who().id}", "part.add", f"limb:{limb_id}", part_id)
    return answer({"id": part_id}, 201)


@route("DELETE", "/parts/<part_id>", STAFF)
def take_out(part_id: str) -> Response:
    """It was replaced, or entered wrongly: it comes up no more."""
    now = settings().now()
    with write(clinic_db()) as db:
        limb_id = part.take_out(db, part_id, now)
        if limb_id is None:
            raise not_found()
        assessments.mark_stale(db, [limb_id], now)
        audit.record(db, now, f"staff:{who().id}", "part.take-out", f"limb:{limb_id}", part_id)
    return answer({"id": part_id, "taken_out": True})
