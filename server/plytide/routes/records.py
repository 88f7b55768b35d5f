"""What the clinic takes out: the audit chain to read, a limb as FHIR and as CSV."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, request

from plytide import access
from plytide.access import Denied, clinic_db, not_found
from plytide.exchange import csv_export, fhir
from plytide.routes.body import answer
from plytide.routes.clinic import asked_choice, asked_limit, record_read, seen_limb
from plytide.store import audit, devices, people, person_rows, staff

bp = Blueprint("records", __name__, url_prefix="/api/clinic")


def asked_line() -> int | None:
    value = request.args.get("next")
    if not value:
        return None
    if not value.isascii() or not value.isdigit() or len(value) > 15:
        words = "This page mark is not one of ours."
        raise Denied(422, "invalid", words, fields={"next": [words]})
    return int(value)


@bp.get("/audit")
@access.clinic("manager")
def audit_() -> Response:
    """Who read or wrote what, when; newest first. `who` is such as staff:ID, `subject` an id."""
    limit = asked_limit()
    lines = audit.page(
        clinic_db(),
        before=asked_line(),
        limit=limit + 1,
        who=request.args.get("who") or None,
        subject=request.args.get("subject") or None,
    )
    names = staff.names(clinic_db())
    onward = str(lines[limit - 1]["n"]) if len(lines) > limit else None
    record_read("audit.read", f"{len(lines[:limit])} lines")
    return answer({"lines": [line | {"name": named(line["who"], names)} for line in lines[:limit]], "next": onward})


def named(who: str, names: dict[str, str]) -> str:
    """Staff by name, phones by what they are called."""
    kind, _, name = who.partition(":")
    if kind == "staff":
        return names.get(name, "somebody who is no longer known")
    if kind == "device":
        return devices.label(clinic_db(), name) or "a phone that is no longer known"
    return kind


def as_file(data: bytes, kind: str, name: str) -> Response:
    response = Response(data, mimetype=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def rows_of(limb_id: str) -> tuple[people.Row, dict[str, list[dict[str, Any]]]]:
    """(the limb, every row of its person). Raises 404."""
    limb = seen_limb(limb_id)
    person = people.person(clinic_db(), limb["person_id"])
    if person is None:
        raise not_found()
    return limb, person_rows.rows_of(clinic_db(), person["id"])


@bp.get("/limbs/<limb_id>/bundle.fhir.json")
@access.clinic()
def bundle(limb_id: str) -> Response:
    """A limb as a FHIR R4 bundle."""
    limb, rows = rows_of(limb_id)
    record_read("limb.export", f"limb:{limb_id}")
    return as_file(fhir.to_bytes(fhir.bundle(limb, rows, access.settings().now())), "application/fhir+json", "limb.fhir.json")


@bp.get("/limbs/<limb_id>/checkins.csv")
@access.clinic()
def checkins(limb_id: str) -> Response:
    """A limb's log as CSV: `for=spreadsheet` guards text cells against formulas, `for=analysis` leaves them raw."""
    _, rows = rows_of(limb_id)
    mode = asked_choice("for", csv_export.MODES) or "spreadsheet"
    record_read("limb.export", f"limb:{limb_id}")
    mine = [row for row in rows.get("checkin", []) if row["limb_id"] == limb_id]
    return as_file(csv_export.checkins(mine, mode), "text/csv; charset=utf-8", f"checkins-{mode}.csv")
