"""A call with a person is recorded."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.person import seen_person
from plytide.http.route import Routes, checked_body
from plytide.storage.sqlite import write
from plytide.wire.contact import ContactSchema
from plytide.work import contact

route = Routes("contact", "/api/clinic")


@route("POST", "/people/<person_id>/contacts", STAFF, body=ContactSchema, done=201)
def add(person_id: str) -> Response:
    """Record a call: what came of it, and what becomes of the signal it was about."""
    given = checked_body()
    seen_person(person_id)
    with write(clinic_db()) as db:
        made = contact.record(db, person_id, given, who().id, settings().now())
    return answer(made, 201)
