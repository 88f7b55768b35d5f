"""What a phone could not send itself, brought to the clinic as a file."""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.person import seen_person
from plytide.http.route import Routes, checked_body
from plytide.storage import audit
from plytide.storage import device as devices
from plytide.storage.device import Device
from plytide.storage.sqlite import write
from plytide.wire.phone_file import PhoneFileSchema, by_writer
from plytide.work import sync

route = Routes("phone_file", "/api/clinic", called="brought")

UNKNOWN = "No phone of this person wrote this."


@route("POST", "/people/<person_id>/phone-file", STAFF, body=PhoneFileSchema)
def take(person_id: str) -> Response:
    """Keep the check-ins of a phone's file as if the phone had sent them; a receipt for each.

    Also from a phone that has been revoked since: what was written before is still the person's own.
    """
    seen_person(person_id)
    given = checked_body()
    known = {row["id"]: row for row in devices.of_person(clinic_db(), person_id)}
    receipts: list[dict[str, Any]] = []
    for writer, items in by_writer(given["checkins"]).items():
        if writer in known:
            phone = Device(writer, known[writer]["role"], known[writer]["label"], (person_id,))
            receipts += kept_from(phone, items)
        else:
            receipts += [refused(item) for item in items]
    kept = sum(receipt["status"] == "kept" for receipt in receipts)
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"staff:{who().id}", "phone.file", f"person:{person_id}", f"kept {kept}")
    return answer({"receipts": receipts})


def kept_from(phone: Device, items: list[Any]) -> list[dict[str, Any]]:
    """Through the phone's own door, a call's worth at a time."""
    most, receipts = settings().sync_limit, []
    for start in range(0, len(items), most):
        part = items[start : start + most]
        receipts += sync.exchange(clinic_db(), phone, part, None, settings().now(), None, 1)["receipts"]
    return receipts


def refused(item: Any) -> dict[str, Any]:
    given = item.get("id") if isinstance(item, dict) else None
    id_ = given if isinstance(given, str) else None
    return {"id": id_, "status": "refused", "errors": {"written_by": [UNKNOWN]}}
