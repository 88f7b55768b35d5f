"""A member of staff's people and signals go to a colleague."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import DECIDERS
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.route import Routes, checked_body
from plytide.storage import staff
from plytide.storage.sqlite import write
from plytide.wire.hand_over import HandOverSchema
from plytide.work.hand_over import hand_over

route = Routes("hand_over", "/api/clinic")


@route("POST", "/staff/<staff_id>/hand-over", DECIDERS, body=HandOverSchema, cost="heavy")
def all_of(staff_id: str) -> Response:
    """Everybody they look after, and every open signal assigned to them, to a colleague; also of one who has left."""
    given = checked_body()
    if staff_id not in staff.names(clinic_db()):
        raise not_found()
    with write(clinic_db()) as db:
        moved = hand_over(db, staff_id, given["to"], who().id, settings().now())
    return answer(moved)
