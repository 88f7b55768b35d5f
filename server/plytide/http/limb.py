"""A limb, entered and changed."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db
from plytide.auth.denied import seen
from plytide.auth.guards import STAFF
from plytide.http.entry import add, change
from plytide.http.person import seen_person
from plytide.http.route import Routes
from plytide.storage import limb as limbs
from plytide.storage.rows import Row
from plytide.wire.limb import LimbSchema

route = Routes("limb", "/api/clinic", called="entry")


def seen_limb(limb_id: str) -> Row:
    """A limb of the caller's own clinic. Raises 404."""
    return seen(limbs.one(clinic_db(), limb_id))


@route("POST", "/people/<person_id>/limbs", STAFF, body=LimbSchema, done=201)
def add_limb(person_id: str) -> Response:
    seen_person(person_id)
    return add("limb", person_id=person_id)


@route("PATCH", "/limbs/<limb_id>", STAFF, body=LimbSchema)
def change_limb(limb_id: str) -> Response:
    return change("limb", seen_limb(limb_id), [limb_id])
