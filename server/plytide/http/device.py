"""Phones of a person: a code that enrols one, what there is, and the end of one."""

from __future__ import annotations

from datetime import timedelta

import segno
from flask import Response, request

from plytide.auth.call import clinic_db, registry, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.person import seen_person
from plytide.http.route import Routes, checked_body
from plytide.storage import audit
from plytide.storage import device as devices
from plytide.storage.ids import new_code
from plytide.storage.sqlite import write
from plytide.wire.device import EnrolmentSchema

route = Routes("device", "/api/clinic", called="entry")


@route("POST", "/people/<person_id>/enrolment-codes", STAFF, body=EnrolmentSchema, done=201)
def add_code(person_id: str) -> Response:
    """A one-time code that enrols one phone for this person, and for any others named."""
    given = checked_body()
    person_ids = list(dict.fromkeys([person_id, *(given.get("person_ids") or [])]))
    for each in person_ids:
        seen_person(each)
    now = settings().now()
    expires_at = now + timedelta(seconds=settings().enrolment_seconds)
    code = new_code()
    with write(clinic_db()) as db:
        enrolment_id = devices.add_enrolment(db, given["role"], person_ids, who().id, now)
        audit.record(db, now, f"staff:{who().id}", "enrolment.add", ",".join(person_ids))
    registry().add_code(code, who().session.clinic_id, enrolment_id, expires_at)
    # The code sits behind the '#': browsers do not send that part, so no log can hold it.
    url = f"{settings().public_url or request.host_url.rstrip('/')}/phone/#enrol={code}"
    picture = segno.make(url, error="m").svg_inline(scale=5, border=4, omitsize=True, svgclass="qr", lineclass=None)
    return answer({"code": code, "expires_at": expires_at.isoformat(), "url": url, "qr_svg": picture}, 201)


@route("GET", "/people/<person_id>/devices", STAFF)
def list_devices(person_id: str) -> Response:
    seen_person(person_id)
    return answer({"devices": devices.of_person(clinic_db(), person_id)})


@route("DELETE", "/devices/<device_id>", STAFF)
def revoke_device(device_id: str) -> Response:
    """The phone's token stops working at once."""
    now = settings().now()
    with write(clinic_db()) as db:
        if not devices.revoke(db, device_id, now):
            raise not_found()
        audit.record(db, now, f"staff:{who().id}", "device.revoke", f"device:{device_id}")
    registry().shut_out(who().session.clinic_id, device_id, now)
    return answer({"id": device_id, "revoked": True})
