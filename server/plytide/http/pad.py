"""A pad in a socket."""

from __future__ import annotations

from flask import Response

from plytide.auth.call import clinic_db
from plytide.auth.guards import STAFF
from plytide.http.entry import add
from plytide.http.route import Routes
from plytide.http.socket import seen_socket
from plytide.wire.pad import PadSchema
from plytide.work.entry_rules import check_is_one

route = Routes("pad", "/api/clinic", called="entry")


@route("POST", "/sockets/<socket_id>/pads", STAFF, body=PadSchema, done=201)
def add_pad(socket_id: str) -> Response:
    socket = seen_socket(socket_id)
    check_is_one(clinic_db(), socket)
    return add("pad", [socket["limb_id"]], socket_id=socket_id)
