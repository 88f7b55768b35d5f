"""What a phone could not send itself, brought to the clinic as a file."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response

from plytide import access, sync
from plytide.access import clinic_db, settings, who
from plytide.routes.body import answer, json_object
from plytide.routes.entry import seen_person
from plytide.store import audit, devices
from plytide.store.devices import Device
from plytide.store.sqlite import write
from plytide.wire.brought import PhoneFileSchema, by_writer
from plytide.wire.clinic import read

bp = Blueprint("brought", __name__, url_prefix="/api/clinic")

UNKNOWN = "No phone of this person wrote this."


@bp.post("/people/<person_id>/phone-file")
@access.clinic()
def take(person_id: str) -> Response:
    """Keep the check-ins of a phone's file as if the phone had sent them; a receipt for each.

    Also from a phone that has been revoked since: what was written before is still the person's own.
    """
    seen_person(person_id)
    given = read(PhoneFileSchema(), json_object())
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
