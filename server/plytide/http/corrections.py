"""A pad, a measurement or an intervention that was entered wrongly: replaced, taken out, put back.

Nothing is erased.
"""

from __future__ import annotations

from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import not_found
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.entry import column_names
from plytide.http.route import Routes, checked_body
from plytide.storage import corrections, records
from plytide.storage.rows import Row
from plytide.storage.sqlite import write
from plytide.wire.corrections import VoidSchema
from plytide.wire.intervention import InterventionCorrectionSchema
from plytide.wire.measurement import MeasurementCorrectionSchema
from plytide.wire.pad import PadCorrectionSchema
from plytide.work import corrections as rules
from plytide.work.entry_rules import check

route = Routes("corrections", "/api/clinic")


def seen_record(record_id: str, wanted: str | None = None) -> tuple[corrections.Record, Row]:
    """Whose it is, and its row. Raises 404."""
    found = corrections.record_of(clinic_db(), record_id)
    row = records.one(clinic_db(), found.kind, record_id) if found and wanted in (None, found.kind) else None
    if found is None or row is None:
        raise not_found()
    return found, row


def replace(kind: str, record_id: str) -> Response:
    """Keep another record in the place of one, which stays as it was; the limb is assessed again."""
    record, before = seen_record(record_id, kind)
    given = checked_body()
    reason = given.pop("reason", None)
    owner = {"socket_id": before["socket_id"]} if kind == "pad" else {"limb_id": record.limb_id}
    values: dict[str, Any] = {**owner, **column_names(kind, given)}
    now = settings().now()
    check(clinic_db(), kind, values, now)
    if kind == "intervention":
        values["by_staff"] = who().id
    with write(clinic_db()) as db:
        new_id = rules.replace(db, record, values, reason, who().id, now)
    return answer({"id": new_id, "replaces": record_id}, 201)


@route("POST", "/measurements/<measurement_id>/correction", STAFF, body=MeasurementCorrectionSchema, done=201)
def correct_measurement(measurement_id: str) -> Response:
    """Another tape measurement in the place of one that was entered wrongly."""
    return replace("measurement", measurement_id)


@route("POST", "/pads/<pad_id>/correction", STAFF, body=PadCorrectionSchema, done=201)
def correct_pad(pad_id: str) -> Response:
    """Another pad in the place of one that was entered wrongly, in the same socket."""
    return replace("pad", pad_id)


@route("POST", "/interventions/<intervention_id>/correction", STAFF, body=InterventionCorrectionSchema, done=201)
def correct_intervention(intervention_id: str) -> Response:
    """Another intervention in the place of one that was entered wrongly."""
    return replace("intervention", intervention_id)


@route("POST", "/records/<record_id>/void", STAFF, body=VoidSchema)
def void(record_id: str) -> Response:
    """Entered by mistake: a pad, a measurement or an intervention counts no longer, and says why."""
    record, _ = seen_record(record_id)
    reason = checked_body()["reason"]
    with write(clinic_db()) as db:
        rules.void(db, record, reason, who().id, settings().now())
    return answer({"id": record_id, "voided": True})


@route("POST", "/records/<voided_id>/restore", STAFF)
def restore(voided_id: str) -> Response:
    """A record that was replaced or taken out counts again; what took its place counts no longer."""
    record, _ = seen_record(voided_id)
    with write(clinic_db()) as db:
        rules.restore(db, record, who().id, settings().now())
    return answer({"id": voided_id, "restored": True})
