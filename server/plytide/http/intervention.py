"""Something done to a limb or a socket."""

from __future__ import annotations

from flask import Response

from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.entry import add_for_limb
from plytide.http.limb import seen_limb
from plytide.http.route import Routes
from plytide.wire.intervention import InterventionSchema

route = Routes("intervention", "/api/clinic", called="entry")


@route("POST", "/limbs/<limb_id>/interventions", STAFF, body=InterventionSchema, done=201)
def add_intervention(limb_id: str) -> Response:
    seen_limb(limb_id)
    return add_for_limb("intervention", limb_id, by_staff=who().id)
