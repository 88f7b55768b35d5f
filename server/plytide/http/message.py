"""The clinic writes to a person's phones, takes back what it wrote, and reads what they answer."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.person import seen_person
from plytide.http.route import Routes, checked_body
from plytide.storage.sqlite import write
from plytide.wire.message import MessageSchema
from plytide.work import message

route = Routes("message", "/api/clinic")


@route("POST", "/people/<person_id>/messages", STAFF, body=MessageSchema, done=201)
def send(person_id: str) -> Response:
    """Write to a person's phones. Refused at once where no phone of theirs can get it."""
    given = checked_body()
    seen_person(person_id)
    with write(clinic_db()) as db:
        message_id = message.send(db, person_id, given, who().id, settings().now())
    return answer({"id": message_id}, 201)


@route("DELETE", "/messages/<message_id>", STAFF)
def withdraw(message_id: str) -> Response:
    """Take a message back. It stays in the record, and phones that have it say so."""
    with write(clinic_db()) as db:
        message.withdraw(db, message_id, who().id, settings().now())
    return answer({"id": message_id, "withdrawn": True})


@route("POST", "/messages/<answered_id>/read", STAFF)
def read(answered_id: str) -> Response:
    """Say that what was answered has been read: the phones then show who read it and when."""
    with write(clinic_db()) as db:
        message.read(db, answered_id, who().id, settings().now())
    return answer({"id": answered_id, "read": True})
