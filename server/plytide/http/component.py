"""Parts of a socket with their numbers: put in, retired with the reason why."""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.route import Routes, checked_body
from plytide.http.socket import seen_socket
from plytide.storage import assessment as assessments
from plytide.storage import audit, component, part
from plytide.storage.sqlite import write
from plytide.wire.component import ComponentSchema, RetireSchema
from plytide.work import despite
from plytide.work.entry_rules import check_after_fitting, check_is_one
from plytide.work.refusal import Refusal

route = Routes("component", "/api/clinic")

DATED = (("warranty_until", "warranty"), ("life_until", "life"))


@route("POST", "/sockets/<socket_id>/components", STAFF, body=ComponentSchema, done=201)
def add(socket_id: str) -> Response:
    """A part of a socket. Its limit of weight is asked about as the socket's own is; its dates come up on the list."""
    socket = seen_socket(socket_id)
    given, now = checked_body(), settings().now()
    why = despite.why_of(given)
    check_is_one(clinic_db(), socket)
    check_fitted(socket, given["fitted_on"])
    limit = given.get("weight_limit_kg")
    against: despite.Against = []
    reason = None
    if limit is not None:
        then = {**socket, "weight_limit_kg": limit}
        against, reason = despite.ask(clinic_db(), socket["limb_id"], then, why, now.date(), {"weight-over-limit"})
    values: dict[str, Any] = {name: one.strip() or None if isinstance(one, str) else one for name, one in given.items()}
    with write(clinic_db()) as db:
        component_id = component.add(db, socket_id, values, who().id, now)
        despite.keep(db, socket_id, against, reason if against else None, who().id, now)
        for name, word in DATED:
            if values.get(name):
                what = f"{values['what'][:100]}, {word}"
                part.add(db, socket["limb_id"], what, values[name], who().id, now, component_id)
        assessments.mark_stale(db, [socket["limb_id"]], now)
        audit.record(db, now, f"staff:{who().id}", "component.add", f"socket:{socket_id}", component_id)
    return answer({"id": component_id}, 201)


def check_fitted(socket: dict[str, object], on: str) -> None:
    try:
        check_after_fitting(socket, on)
    except Refusal as refusal:
        raise Refusal("fitted_on", refusal.words) from refusal


@route("POST", "/components/<component_id>/retire", STAFF, body=RetireSchema)
def retire(component_id: str) -> Response:
    """It is used no more, and why. Its dates come up no more either."""
    row = component.one(clinic_db(), component_id)
    if row is None:
        raise not_found()
    given, now = checked_body(), settings().now()
    if given["on"] < row["fitted_on"]:
        raise Refusal("on", "A part can't be retired before it was put in.")
    with write(clinic_db()) as db:
        component.retire(db, component_id, given["on"], (given.get("why") or "").strip() or None)
        part.take_out_of(db, component_id, now)
        assessments.mark_stale(db, [seen_socket(row["socket_id"])["limb_id"]], now)
        audit.record(db, now, f"staff:{who().id}", "component.retire", f"socket:{row['socket_id']}", component_id)
    return answer({"id": component_id})
