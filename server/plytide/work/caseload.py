"""A caseload: what a file's rows would make, and making it a portion at a time.

The look before and the bringing itself are one plan over one index of what is known (`caseload_plan`), so that they
can't differ.
"""

from __future__ import annotations

import hashlib
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.engine.staff_words import LEVEL
from plytide.storage import assessment as assessments
from plytide.storage import audit, caseload, despite, rows
from plytide.storage import device as devices
from plytide.storage.rows import Row
from plytide.storage.sqlite import read, write
from plytide.wire import caseload_csv, caseload_fhir
from plytide.wire.caseload import PART_BYTES
from plytide.wire.caseload_csv import Unread
from plytide.work import despite as despite_rules
from plytide.work.caseload_plan import Index, Planned, Raw, now_known, plan
from plytide.work.refusal import Missing, Refusal

PORTION = 250  # rows a transaction: phones that sync meanwhile wait for one portion at most
MOST_FAULTS = 500
WHY = "As the clinic's own records had it when its caseload was brought."
NOT_ASKED = "Not asked: imported, row {n} of the file."


# The file.


def seen(db: Database, caseload_id: str) -> Row:
    """Raises Missing."""
    row = caseload.one(db, caseload_id)
    if row is None:
        raise Missing(caseload_id)
    return row


def whole(db: Database, row: Row) -> bytes:
    """The file, all of it. Raises Refusal where parts are missing."""
    data = caseload.body(db, row["id"])
    if len(data) != row["size"]:
        words = f"{len(data)} of {row['size']} bytes have come. Send the file again."
        raise Refusal("file", words if not row["brought_at"] else "This file has been brought already.")
    return data


def take_part(db: Database, row: Row, n: int, body: bytes) -> None:
    """Raises Refusal."""
    if row["done_to"] or row["brought_at"]:
        raise Refusal("content", "This file is being brought, or has been.")
    if len(body) > PART_BYTES or n * PART_BYTES >= row["size"]:
        raise Refusal("content", "This is more than the file was said to hold.")
    with write(db):
        caseload.add_part(db, row["id"], n, body)


def look(db: Database, row: Row) -> dict[str, Any]:
    """What the file is, and what has to be asked about it before it can be brought. Raises Refusal."""
    data = whole(db, row)
    digest = hashlib.sha256(data).hexdigest()
    if row["sha256"] != digest:
        with write(db):
            caseload.change(db, row["id"], sha256=digest)
    twice = caseload.same_file(db, {**row, "sha256": digest})
    found: dict[str, Any] = {
        "brought_before": {"on": twice["brought_at"][:10], "by": twice["by_staff"]} if twice else None
    }
    choices = row["choices"]
    if row["kind"] == "fhir":
        rows, left_out = _unread(lambda: caseload_fhir.records(data, LEVEL))
        return found | {"rows": len(rows), "left_out": left_out, "asks": []}
    if caseload_csv.encoding_of(data) is None and not choices.get("encoding"):
        return found | {"asks": ["encoding"], "encodings": caseload_csv.samples(data)}
    sheet = _unread(lambda: caseload_csv.read(data, choices.get("encoding")))
    columns = caseload_csv.likely(sheet.heading, caseload.remembered(db)) | choices.get("columns", {})
    undated = caseload_csv.undated(sheet, columns)
    asks = ["date_order"] if undated and not choices.get("date_order") else []
    return found | {
        "rows": len(sheet.rows),
        "cut": sheet.cut,
        "heading": sheet.heading,
        "first": [cells for _, cells in sheet.rows[:3]],
        "columns": columns,
        "dates": undated,
        "asks": asks + ([] if any(choices.get("columns", {}).values()) else ["columns"]),
    }


def _unread(act: Any) -> Any:
    try:
        return act()
    except Unread as error:
        raise Refusal(error.field, error.words) from None


def choose(db: Database, row: Row, given: dict[str, Any], staff_id: str, now: datetime) -> None:
    """Keep what the clinic said about the file; what it said about a heading is remembered. Raises Refusal."""
    if row["done_to"]:
        raise Refusal("columns", "Rows of this file have been brought already.")
    with write(db):
        caseload.change(db, row["id"], choices=row["choices"] | given)
        caseload.remember(db, {name: match for name, match in (given.get("columns") or {}).items() if match})
        audit.record(db, now, f"staff:{staff_id}", "caseload.choose", f"caseload:{row['id']}", ",".join(sorted(given)))


def raws(db: Database, row: Row, start: int = 0, stop: int | None = None) -> tuple[list[Raw], int]:
    """Rows of the file by their numbers, and how many there are. Raises Refusal for what has to be said first."""
    data, choices = whole(db, row), row["choices"]
    if row["kind"] == "fhir":
        found, _ = _unread(lambda: caseload_fhir.records(data, LEVEL))
        return [(i, *one) for i, one in enumerate(found, 1)][start:stop], len(found)
    sheet = _unread(lambda: caseload_csv.read(data, choices.get("encoding")))
    columns, order = choices.get("columns") or {}, choices.get("date_order")
    if not any((match or {}).get("field") == "name" for match in columns.values()):
        raise Refusal("columns", "Say which column holds the name.")
    singles = [m["field"] for m in columns.values() if m and m["field"] != "circumference"]
    if len(set(singles)) < len(singles):
        raise Refusal("columns", "Two columns are matched with the same field.")
    if order is None and caseload_csv.undated(sheet, columns):
        raise Refusal("date_order", "Say in which order the dates are written.")
    made: list[Raw] = []
    for n, cells in sheet.rows[start:stop]:
        record, faults = caseload_csv.record(sheet, cells, columns, order)
        made.append((n, record, None, faults))
    total = len(sheet.rows) + sheet.cut
    if sheet.cut and (stop is None or stop >= total):
        last = sheet.rows[-1][0] if sheet.rows else 1
        made.append((last + 1, {}, None, {"row": caseload_csv.CUT}))
    return made, total


def to_json(planned: Planned) -> dict[str, Any]:
    return {
        "n": planned.n,
        "person": planned.person,
        "makes": [step.kind for step in planned.steps if step.made],
        "already": [step.kind for step in planned.steps if not step.made],
        "same_name": planned.same_name,
        "faults": planned.faults,
    }


def rehearse(db: Database, row: Row, now: datetime) -> list[Planned]:
    """What each row would make, from the first: nothing is written."""
    with read(db):
        index = Index(db)
        return [plan(db, index, raw, now) for raw in raws(db, row)[0]]


# Bringing.


def bring(db: Database, row: Row, done_to: int, staff_id: str, now: datetime) -> dict[str, Any]:
    """The next portion, in one transaction; asked for again, it is not made twice. Raises Refusal."""
    if row["brought_at"] or done_to != row["done_to"]:
        return progress(db, row)
    sha256 = row["sha256"] or hashlib.sha256(whole(db, row)).hexdigest()
    part, total = raws(db, row, done_to, done_to + PORTION)
    with write(db):
        row = seen(db, row["id"])
        if row["done_to"] != done_to or row["brought_at"]:
            return progress(db, row)
        index = Index(db)
        faults = list(row["faults"])
        for raw in part:
            planned = plan_kept(db, index, raw, row["id"], staff_id, now)
            if planned.faults:
                faults.append({"n": planned.n, "faults": _without_names(planned.faults)})
        to = done_to + len(part)
        values: dict[str, Any] = {"done_to": to, "rows": total, "faults": faults}
        values["sha256"] = sha256
        if to >= total:
            values["brought_at"] = now.isoformat()
            caseload.drop_parts(db, row["id"])
        caseload.change(db, row["id"], **values)
        audit.record(db, now, f"staff:{staff_id}", "caseload.bring", f"caseload:{row['id']}", f"rows to {to}")
    return progress(db, seen(db, row["id"]))


def _without_names(faults: dict[str, str]) -> dict[str, str]:
    """What is kept with the import outlives an erasure, so it names nobody."""
    return {
        place: "This record number is another person's." if place == "record_number" and "already" in words
        else "This person is here with another birth date." if words.endswith("with another birth date.") else words
        for place, words in faults.items()
    }  # fmt: skip


def plan_kept(db: Database, index: Index, raw: Raw, caseload_id: str, staff_id: str, now: datetime) -> Planned:
    """Plan a row and make what it says. Only inside a write transaction."""
    planned = plan(db, index, raw, now)
    n = planned.n
    if planned.faults:
        return planned
    ids: dict[str, str] = {}
    socket: dict[str, Any] | None = None
    for step in planned.steps:
        if not step.made:
            ids[step.kind] = step.row_id or ""
            continue
        values = dict(step.values)
        if step.kind == "limb":
            values["person_id"] = ids["person"]
        elif step.kind != "person":
            values["limb_id"] = ids["limb"]
        ids[step.kind] = rows.add(db, step.kind, values, now)
        if step.kind == "socket":
            socket = values
        caseload.made(db, caseload_id, n, step.kind, ids[step.kind], ids["person"], step.source)
        now_known(index, step, ids)
    if socket is not None:  # once all of the row is there: its weight may be over the socket's limit
        against = despite_rules.found(db, ids["limb"], socket, now.date())
        why = f"{WHY} {NOT_ASKED.format(n=n)}" if against else WHY
        despite.add(db, ids["socket"], against, why, staff_id, now)
    if "limb" in ids and any(step.made for step in planned.steps):
        assessments.mark_stale(db, [ids["limb"]], now)
    return planned


def progress(db: Database, row: Row) -> dict[str, Any]:
    made = caseload.made_counts(db, row["id"])
    return {name: row[name] for name in ("id", "name", "kind", "rows", "done_to", "faults", "created_at", "brought_at",
                                         "undone_at", "by_staff")} | {"made": made}  # fmt: skip


def codes(
    db: Database, row: Row, after: int, role: str, staff_id: str, now: datetime, most: int
) -> tuple[list[tuple[str, str, str]], int | None]:
    """(person, name, enrolment) of the next people an import made who have no phone yet; and where to go on."""
    with write(db):
        found = caseload.people_made(db, row["id"], after, most)
        made = [
            (person_id, name, devices.add_enrolment(db, role, [person_id], staff_id, now))
            for _, person_id, name in found
            if devices.first_joined(db, person_id) is None
        ]
        for person_id, _, _ in made:
            audit.record(db, now, f"staff:{staff_id}", "enrolment.add", person_id, f"caseload:{row['id']}")
    return made, found[-1][0] if len(found) == most else None
