"""A whole import taken back, a portion at a time: whoever has more by now is kept, and named."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import audit, caseload, person_rows
from plytide.storage.rows import Row
from plytide.storage.sqlite import write
from plytide.work.caseload import WHY

PORTION = 25
#: Follows from what was brought, and stands in nobody's way.
DERIVED = frozenset({"assessment", "assessment_whole", "said", "stale", "signal", "mail", "enrolment", "caseload_made"})
STAYS = {
    "device_person": "a phone has joined",
    "device": "a phone has joined",
    "checkin": "a phone has sent entries",
    "unkept": "a phone has sent entries",
}


def undo(db: Database, row: Row, after: str, staff_id: str, now: datetime) -> dict[str, Any]:
    """Take back a portion of what an import made, people by id. Whoever has more by now is kept, and named."""
    kept: list[dict[str, str]] = []
    gone = 0
    enrolments: list[str] = []
    with write(db):
        found = caseload.touched_people(db, row["id"], after, PORTION)
        for person_id, name in found:
            why = _stands(db, row["id"], person_id)
            if why:
                kept.append({"person_id": person_id, "name": name, "why": why})
                continue
            mine = caseload.made_for(db, row["id"], person_id)
            if any(kind == "person" for kind, _, _ in mine):
                enrolments += person_rows.erase(db, person_id)["enrolment_ids"]
            else:
                for kind, record_id, _ in mine:
                    caseload.take_out(db, row["id"], person_id, kind, record_id)
            gone += 1
        last = len(found) < PORTION
        # An import cut off halfway must not go on after it was taken back.
        caseload.change(db, row["id"], brought_at=row["brought_at"] or now.isoformat())
        caseload.drop_parts(db, row["id"])
        if last:
            caseload.change(db, row["id"], undone_at=now.isoformat())
        detail = f"taken back {gone}, kept {len(kept)}"
        audit.record(db, now, f"staff:{staff_id}", "caseload.undo", f"caseload:{row['id']}", detail)
    return {"gone": gone, "kept": kept, "next": None if last else found[-1][0], "enrolments": enrolments}


def _stands(db: Database, caseload_id: str, person_id: str) -> str | None:
    """Why what an import made for somebody can't be taken back: more has come since, or it was changed. Reads only."""
    mine = {record_id: (kind, seq) for kind, record_id, seq in caseload.made_for(db, caseload_id, person_id)}
    own = any(kind == "person" for kind, _ in mine.values())
    rows = person_rows.rows_of(db, person_id)
    for table in STAYS:
        if table in rows and (own or any(kind != "measurement" for kind, _ in mine.values())):
            if "checkin" in rows:
                return STAYS["checkin"]
            return STAYS[table]
    for table, found in rows.items():
        for row in found:
            theirs = {row.get("id"), row.get("record_id"), row.get("limb_id"), row.get("socket_id")} & set(mine)
            if table in DERIVED or (not own and not theirs):
                continue
            if table == "signal_event" and not row.get("by_staff"):
                continue
            if table == "socket_despite" and row["reason"].startswith(WHY):
                continue
            if row.get("id") not in mine or mine[row["id"]][1] not in (None, row.get("seq")):
                return "something was entered or changed since"
    return None
