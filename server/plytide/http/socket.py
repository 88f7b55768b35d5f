"""A socket: entered, changed, its suspension switched. What stands against it is asked about."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import seen
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.entry import change, column_names
from plytide.http.limb import seen_limb
from plytide.http.route import Routes, checked_body
from plytide.storage import assessment as assessments
from plytide.storage import audit, rows
from plytide.storage import socket as sockets
from plytide.storage.rows import Row
from plytide.storage.sqlite import write
from plytide.wire.socket import SocketSchema, SuspensionSchema
from plytide.work import despite
from plytide.work.entry_rules import check, check_after_fitting, check_is_one

route = Routes("socket", "/api/clinic", called="entry")


def seen_socket(socket_id: str) -> Row:
    return seen(sockets.one(clinic_db(), socket_id))


@route("POST", "/limbs/<limb_id>/sockets", STAFF, body=SocketSchema, done=201)
def add_socket(limb_id: str) -> Response:
    """A new socket. What stands against it is asked about (409 `stands-against`), and kept with the reason given."""
    seen_limb(limb_id)
    values = {"limb_id": limb_id, **column_names("socket", checked_body())}
    values.pop("was", None)
    why = despite.why_of(values)
    now = settings().now()
    check(clinic_db(), "socket", values, now)
    against, reason = despite.ask(clinic_db(), limb_id, values, why, now.date())
    with write(clinic_db()) as db:
        socket_id = rows.add(db, "socket", values, now)
        despite.keep(db, socket_id, against, reason, who().id, now)
        assessments.mark_stale(db, [limb_id], now)
        audit.record(db, now, f"staff:{who().id}", "socket.add", socket_id)
    return answer({"id": socket_id}, 201)


@route("PATCH", "/sockets/<socket_id>", STAFF, body=SocketSchema)
def change_socket(socket_id: str) -> Response:
    socket = seen_socket(socket_id)
    check_is_one(clinic_db(), socket)
    return change("socket", socket, [socket["limb_id"]])


@route("POST", "/sockets/<socket_id>/suspensions", STAFF, body=SuspensionSchema, done=201)
def add_suspension(socket_id: str) -> Response:
    """Another suspension on the same socket; the earlier one stays in its history."""
    socket = seen_socket(socket_id)
    given = checked_body()
    check_is_one(clinic_db(), socket)
    check_after_fitting(socket, given["on"])
    why, new = despite.why_of(given), {"suspension": given["suspension"]}
    now, then = settings().now(), {**socket, **new}
    against, reason = despite.ask(clinic_db(), socket["limb_id"], then, why, now.date(), despite.about(socket, new))
    values = {"socket_id": socket_id, "changed_on": given["on"], "suspension": given["suspension"]}
    values |= {"was": socket["suspension"], "liner": (given.get("liner") or "").strip() or None}
    with write(clinic_db()) as db:
        row_id = rows.add(db, "suspension", values | {"by_staff": who().id}, now)
        rows.change(db, "socket", socket_id, new, now)
        despite.keep(db, socket_id, against, reason, who().id, now)
        assessments.mark_stale(db, [socket["limb_id"]], now)
        audit.record(db, now, f"staff:{who().id}", "suspension.add", f"socket:{socket_id}")
    return answer({"id": row_id}, 201)
