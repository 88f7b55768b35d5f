"""A pad, a measurement or an intervention that was entered wrongly: replaced, taken out, put back. Nothing is erased."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response

from plytide import access
from plytide.access import clinic_db, not_found, settings, who
from plytide.routes.body import answer, json_object
from plytide.routes.entry import check, column_names, refuse
from plytide.store import assessments, audit, corrections, people
from plytide.store.sqlite import write
from plytide.wire.clinic import (
    InterventionCorrectionSchema,
    MeasurementCorrectionSchema,
    PadCorrectionSchema,
    VoidSchema,
    read,
)
from plytide.wire.fields import Strict

bp = Blueprint("corrections", __name__, url_prefix="/api/clinic")

GONE = "This was corrected or taken out in the meantime. Open the limb again to see it as it stands."


def seen_record(record_id: str, wanted: str | None = None) -> tuple[str, str, people.Row]:
    """(kind, limb id, the record). Raises 404."""
    found = corrections.record_of(clinic_db(), record_id)
    row = people.record(clinic_db(), found[0], record_id) if found and wanted in (None, found[0]) else None
    if found is None or row is None:
        raise not_found()
    return *found, row


def replace(kind: str, schema: Strict, record_id: str) -> Response:
    """Keep another record in the place of one, which stays as it was; the limb is assessed again."""
    _, limb_id, before = seen_record(record_id, kind)
    given = read(schema, json_object())
    reason = given.pop("reason", None)
    owner = {"socket_id": before["socket_id"]} if kind == "pad" else {"limb_id": limb_id}
    values: dict[str, Any] = {**owner, **column_names(kind, given)}
    check(kind, values)
    if kind == "intervention":
        values["by_staff"] = who().id
    now = settings().now()
    with write(clinic_db()) as db:
        if not corrections.stands(db, record_id):
            raise refuse("record", GONE)
        new_id = people.add(db, kind, values, now)
        corrections.add(
            db, kind, limb_id, record_id, "replace", who().id, now, replaced_by=new_id, reason=reason or None
        )
        assessments.mark_stale(db, [limb_id], now)
        audit.record(db, now, f"staff:{who().id}", f"{kind}.correct", f"limb:{limb_id}", f"{new_id} replaces {record_id}")
    return answer({"id": new_id, "replaces": record_id}, 201)


@bp.post("/measurements/<measurement_id>/correction")
@access.clinic()
def correct_measurement(measurement_id: str) -> Response:
    """Another tape measurement in the place of one that was entered wrongly."""
    return replace("measurement", MeasurementCorrectionSchema(), measurement_id)


@bp.post("/pads/<pad_id>/correction")
@access.clinic()
def correct_pad(pad_id: str) -> Response:
    """Another pad in the place of one that was entered wrongly, in the same socket."""
    return replace("pad", PadCorrectionSchema(), pad_id)


@bp.post("/interventions/<intervention_id>/correction")
@access.clinic()
def correct_intervention(intervention_id: str) -> Response:
    """Another intervention in the place of one that was entered wrongly."""
    return replace("intervention", InterventionCorrectionSchema(), intervention_id)


@bp.post("/records/<record_id>/void")
@access.clinic()
def void(record_id: str) -> Response:
    """Entered by mistake: a pad, a measurement or an intervention counts no longer, and says why."""
    kind, limb_id, _ = seen_record(record_id)
    reason = read(VoidSchema(), json_object())["reason"]
    now = settings().now()
    with write(clinic_db()) as db:
        if not corrections.stands(db, record_id):
            raise refuse("record", GONE)
        corrections.add(db, kind, limb_id, record_id, "void", who().id, now, reason=reason)
        assessments.mark_stale(db, [limb_id], now)
        audit.record(db, now, f"staff:{who().id}", f"{kind}.void", f"limb:{limb_id}", record_id)
    return answer({"id": record_id, "voided": True})


@bp.post("/records/<voided_id>/restore")
@access.clinic()
def restore(voided_id: str) -> Response:
    """A record that was replaced or taken out counts again; what took its place counts no longer."""
    kind, limb_id, _ = seen_record(voided_id)
    now = settings().now()
    with write(clinic_db()) as db:
        before = corrections.last(db, voided_id)
        if before is None or before["deed"] == "restore":
            raise refuse("record", "This counts already.")
        place = corrections.place_of(db, voided_id)
        if place and corrections.stands(db, place):
            raise refuse("record", "The record that this one took the place of counts again. Only one of them can.")
        heir = before["replaced_by"]
        after = corrections.last(db, heir) if heir else None
        if after and after["deed"] == "replace":
            raise refuse("record", "It was corrected once more since. Put that one back first.")
        if corrections.standing_kin(db, voided_id) - {heir}:
            raise refuse("record", "Another correction of the same record counts. Take that one out first.")
        corrections.add(db, kind, limb_id, voided_id, "restore", who().id, now)
        if heir and corrections.stands(db, heir):
            corrections.add(db, kind, limb_id, heir, "void", who().id, now, reason="The correction was undone.")
        assessments.mark_stale(db, [limb_id], now)
        audit.record(db, now, f"staff:{who().id}", f"{kind}.restore", f"limb:{limb_id}", voided_id)
    return answer({"id": voided_id, "restored": True})
