"""A note about a limb."""

from __future__ import annotations

from flask import Response

from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.entry import add_for_limb
from plytide.http.limb import seen_limb
from plytide.http.route import Routes
from plytide.wire.note import NoteSchema

route = Routes("note", "/api/clinic", called="entry")


@route("POST", "/limbs/<limb_id>/notes", STAFF, body=NoteSchema, done=201)
def add_note(limb_id: str) -> Response:
    seen_limb(limb_id)
    return add_for_limb("note", limb_id, by_staff=who().id)
