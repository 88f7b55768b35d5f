"""A pad, a measurement or an intervention that was entered wrongly: replaced, taken out, put back. Nothing is erased.

All of it only inside a write transaction.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import assessment as assessments
from plytide.storage import audit, corrections, rows
from plytide.storage.corrections import Record
from plytide.work.refusal import Refusal

GONE = "This was corrected or taken out in the meantime. Open the limb again to see it as it stands."


def replace(
    db: Database,
    record: Record,
    values: dict[str, Any],
    reason: str | None,
    staff_id: str,
    now: datetime,
) -> str:
    """Keep another record in the place of one, which stays as it was; its id. Raises Refusal."""
    _must_stand(db, record)
    new_id = rows.add(db, record.kind, values, now)
    corrections.add(db, record, "replace", staff_id, now, replaced_by=new_id, reason=reason or None)
    _noted(db, record, "correct", f"{new_id} replaces {record.id}", staff_id, now)
    return new_id


def void(db: Database, record: Record, reason: str, staff_id: str, now: datetime) -> None:
    """A record counts no longer, and says why. Raises Refusal."""
    _must_stand(db, record)
    corrections.add(db, record, "void", staff_id, now, reason=reason)
    _noted(db, record, "void", record.id, staff_id, now)


def restore(db: Database, record: Record, staff_id: str, now: datetime) -> None:
    """A record counts again; what took its place counts no longer. Of one thing only one record counts.

    Raises Refusal.
    """
    before = corrections.last(db, record.id)
    if before is None or before["deed"] == "restore":
        raise Refusal("record", "This counts already.")
    place = corrections.place_of(db, record.id)
    if place and corrections.stands(db, place):
        raise Refusal("record", "The record that this one took the place of counts again. Only one of them can.")
    heir = before["replaced_by"]
    after = corrections.last(db, heir) if heir else None
    if after and after["deed"] == "replace":
        raise Refusal("record", "It was corrected once more since. Put that one back first.")
    if corrections.standing_kin(db, record.id) - {heir}:
        raise Refusal("record", "Another correction of the same record counts. Take that one out first.")
    corrections.add(db, record, "restore", staff_id, now)
    if heir and corrections.stands(db, heir):
        corrections.add(
            db, Record(record.kind, record.limb_id, heir), "void", staff_id, now, reason="The correction was undone."
        )
    _noted(db, record, "restore", record.id, staff_id, now)


def can_come_back(db: Database, line: dict[str, Any], last: dict[str, dict[str, Any]]) -> bool:
    """Whether `restore` would take a line of a limb's corrections; `last` is the last line about each record.

    Only the last line about a record, and only while nothing else stands in its place. Reads only.
    """
    record_id, heir = line["record_id"], line["replaced_by"]
    if line is not last[record_id] or line["deed"] == "restore":
        return False
    return corrections.standing_kin(db, record_id) <= {heir} and not (heir in last and last[heir]["deed"] == "replace")


def _must_stand(db: Database, record: Record) -> None:
    if not corrections.stands(db, record.id):
        raise Refusal("record", GONE)


def _noted(db: Database, record: Record, deed: str, detail: str, staff_id: str, now: datetime) -> None:
    assessments.mark_stale(db, [record.limb_id], now)
    audit.record(db, now, f"staff:{staff_id}", f"{record.kind}.{deed}", f"limb:{record.limb_id}", detail)
