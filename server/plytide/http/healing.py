"""The clinic writes of a place of skin, and takes a mistake out."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.limb import seen_limb
from plytide.http.route import Routes, checked_body
from plytide.storage.sqlite import write
from plytide.wire.healing import HealingSchema
from plytide.work import healing

route = Routes("healing", "/api/clinic")


@route("POST", "/limbs/<limb_id>/healing", STAFF, body=HealingSchema, done=201)
def add(limb_id: str) -> Response:
    """A size in mm, the day a place healed, or that it is open again."""
    seen_limb(limb_id)
    given = checked_body()
    with write(clinic_db()) as db:
        row_id = healing.add(db, limb_id, given, who().id, settings().now())
    return answer({"id": row_id}, 201)


@route("DELETE", "/healing/<healing_id>", STAFF)
def take_out(healing_id: str) -> Response:
    """A record was a mistake: it stays to be read in the file, and stands no more."""
    with write(clinic_db()) as db:
        limb_id = healing.take_out(db, healing_id, who().id, settings().now())
    return answer({"id": healing_id, "limb_id": limb_id, "taken_out": True})
