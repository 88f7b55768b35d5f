"""What the clinic takes out: the audit chain to read, a limb as FHIR and as CSV."""

from __future__ import annotations

import re
from typing import Any

from flask import Response, request

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied, not_found
from plytide.auth.guards import MANAGER, STAFF
from plytide.engine.staff_words import LEVEL, word_of
from plytide.export import csv_files, fhir
from plytide.http.asked import asked_choice, asked_limit
from plytide.http.audit import record_read
from plytide.http.body import answer
from plytide.http.limb import seen_limb
from plytide.http.route import CSV, FHIR, PAGE, TEXT, Routes, one_of
from plytide.storage import audit, person_rows, records, signals, staff
from plytide.storage import device as devices
from plytide.storage import limb as limbs
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage.rows import Row

route = Routes("records", "/api/clinic")

ID = re.compile(r"[0-9a-f-]{32,36}")


def asked_line() -> int | None:
    value = request.args.get("next")
    if not value:
        return None
    if not value.isascii() or not value.isdigit() or len(value) > 15:
        words = "This page mark is not one of ours."
        raise Denied(422, "invalid", words, fields={"next": [words]})
    return int(value)


@route("GET", "/audit", MANAGER, query={"who": TEXT, "subject": TEXT, **PAGE}, cost="heavy")
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
    abouts = {subject: about(subject, names) for subject in {line["subject"] for line in lines[:limit]}}
    told = [line | {"name": named(line["who"], names)} | abouts[line["subject"]] for line in lines[:limit]]
    return answer({"lines": told, "next": onward})


def about(subject: str, names: dict[str, str]) -> dict[str, Any]:
    """Whom or what a line is about, by name, and the person's id where there is one to go to."""
    kind, _, id_ = subject.rpartition(":")
    if kind in ("staff", "device"):
        return {"about": named(subject, names), "person_id": None}
    limb, person = whose(id_)
    if person is None:
        known_kind = kind in ("person", "limb", "socket", "signal", "visit")
        gone = f"{kind or 'entry'} that is no longer here" if known_kind or ID.fullmatch(subject) else subject
        return {"about": gone, "person_id": None}
    which = f", {limb['side']} {word_of(LEVEL, limb['level'])}" if limb else ""
    return {"about": f"{person['name']}{which}", "person_id": person["id"]}


def whose(id_: str) -> tuple[Row | None, Row | None]:
    """(the limb, the person) behind an id of theirs, or of what was entered about them."""
    db = clinic_db()
    person, limb = people.one(db, id_), limbs.one(db, id_)
    if not person and not limb:
        entry = sockets.one(db, id_) or signals.one(db, id_)
        entry = entry or next(
            filter(None, (records.one(db, kind, id_) for kind in ("measurement", "intervention"))), {}
        )
        limb = limbs.one(db, entry["limb_id"]) if entry else None
    return limb, person or (people.one(db, limb["person_id"]) if limb else None)


def named(who: str, names: dict[str, str]) -> str:
    """Staff by name, phones by what they are called."""
    kind, _, name = who.partition(":")
    if kind == "staff":
        return names.get(name, "somebody who is no longer known")
    if kind == "device":
        return devices.label(clinic_db(), name) or "a phone that is no longer known"
    return kind


def as_file(data: bytes, kind: str, name: str) -> Response:
    response = Response(data, content_type=kind)  # as a mimetype a charset in it would be given twice
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def rows_of(limb_id: str) -> tuple[Row, dict[str, list[dict[str, Any]]]]:
    """(the limb, every row of its person). Raises 404."""
    limb = seen_limb(limb_id)
    person = people.one(clinic_db(), limb["person_id"])
    if person is None:
        raise not_found()
    return limb, person_rows.rows_of(clinic_db(), person["id"])


@route("GET", "/limbs/<limb_id>/bundle.fhir.json", STAFF, cost="heavy", gives=FHIR)
def bundle(limb_id: str) -> Response:
    """A limb as a FHIR R4 bundle."""
    limb, rows = rows_of(limb_id)
    record_read("limb.export", f"limb:{limb_id}")
    return as_file(fhir.to_bytes(fhir.bundle(limb, rows, settings().now())), "application/fhir+json", "limb.fhir.json")


@route("GET", "/limbs/<limb_id>/checkins.csv", STAFF, query={"for": one_of(csv_files.MODES)}, cost="heavy", gives=CSV)
def checkins(limb_id: str) -> Response:
    """A limb's log as CSV: `for=spreadsheet` guards text cells against formulas, `for=analysis` leaves them raw."""
    _, rows = rows_of(limb_id)
    mode = asked_choice("for", csv_files.MODES) or "spreadsheet"
    record_read("limb.export", f"limb:{limb_id}")
    mine = [row for row in rows.get("checkin", []) if row["limb_id"] == limb_id]
    return as_file(csv_files.checkins(mine, mode), "text/csv; charset=utf-8", f"checkins-{mode}.csv")
