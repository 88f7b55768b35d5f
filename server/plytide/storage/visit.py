"""Visits and what was changed about them ↔ rows."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.rows import Row

COLUMNS = (
    "id", "person_id", "visit_on", "visit_time", "what", "cancelled", "minutes", "chair", "staff_id", "limb_id",
    "signal_id", "outcome", "sequence", "created_at", "changed_at",
)  # fmt: skip
#: A visit that is still to come, or was kept: not called off, and nobody stayed away.
STANDS = "NOT cancelled AND outcome IS NOT 'missed'"


def _select(db: Database, where: str, args: Sequence[Any] = ()) -> list[Row]:
    sql = f"SELECT {', '.join(f'visit.{column}' for column in COLUMNS)}, person.name FROM visit"
    rows = db.conn.execute(f"{sql} JOIN person ON person.id = visit.person_id WHERE {where}", args)
    return [dict(zip((*COLUMNS, "name"), row, strict=True)) for row in rows]


def add(db: Database, values: Row, staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    row = {"id": new_id(), **values, "created_at": now.isoformat()}
    db.conn.execute(f"INSERT INTO visit ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))
    _keep_change(db, row["id"], {}, values, staff_id, now)
    return str(row["id"])


def change(db: Database, before: Row, values: Row, staff_id: str, now: datetime) -> None:
    """Change the named columns of a visit, and keep how it was. Only inside a write transaction."""
    row = {**values, "sequence": before["sequence"] + 1, "changed_at": now.isoformat()}
    db.conn.execute(
        f"UPDATE visit SET {', '.join(f'{column} = ?' for column in row)} WHERE id = ?", (*row.values(), before["id"])
    )
    _keep_change(db, before["id"], {column: before[column] for column in values}, values, staff_id, now)


def _keep_change(db: Database, visit_id: str, before: Row, after: Row, staff_id: str, now: datetime) -> None:
    db.conn.execute(
        "INSERT INTO visit_change (visit_id, before, after, by_staff, created_at) VALUES (?, ?, ?, ?, ?)",
        (visit_id, json.dumps(before), json.dumps(after), staff_id, now.isoformat()),
    )


def changes_of(db: Database, visit_id: str) -> list[Row]:
    """What became of a visit, oldest first: each step with the columns before and after it. Reads only."""
    rows = db.conn.execute(
        "SELECT before, after, by_staff, created_at FROM visit_change WHERE visit_id = ? ORDER BY n", (visit_id,)
    )
    return [{"before": json.loads(row[0]), "after": json.loads(row[1]), "by": row[2], "at": row[3]} for row in rows]


def one(db: Database, visit_id: str) -> Row | None:
    rows = _select(db, "visit.id = ?", (visit_id,))
    return rows[0] if rows else None


def of_person(db: Database, person_id: str, until: str | None = None) -> list[Row]:
    """All of them, those called off too, by date; with `until` as they stood then. Reads only."""
    if until is None:
        return _select(db, "person_id = ? ORDER BY visit_on, visit_time, visit.id", (person_id,))
    made = _select(db, "person_id = ? AND visit.created_at < ?", (person_id, until))
    stood = [_as_it_stood(db, visit, until) for visit in made]
    return sorted(stood, key=lambda one: (one["visit_on"], one["visit_time"] or "", one["id"]))


def _as_it_stood(db: Database, visit: Row, until: str) -> Row:
    """A visit without what was changed about it since. A change reads "before" as it found it."""
    since = [step["before"] for step in changes_of(db, visit["id"]) if step["at"] >= until]
    for before in reversed(since):
        visit = visit | before
    return visit


def between(db: Database, first: str, last: str) -> list[Row]:
    """Everybody's visits on the days from `first` to `last`, those called off too. Reads only."""
    return _select(db, "visit_on BETWEEN ? AND ? ORDER BY visit_on, visit_time, visit.id", (first, last))


def of_people(db: Database, person_ids: Iterable[str], since: str) -> list[Row]:
    """Visits of these people from a day on, those called off too, by date. Reads only."""
    people = "person_id IN (SELECT value FROM json_each(?)) AND visit_on >= ? ORDER BY visit_on, visit_time, visit.id"
    return _select(db, people, (json.dumps(list(person_ids)), since))


def of_family(db: Database, person_id: str, today: str) -> list[Row]:
    """Coming visits of all people who share a caregiver's phone with this one, by date. Reads only."""
    return _select(
        db,
        f"visit_on >= ? AND {STANDS} AND visit.person_id IN"
        " (SELECT other.person_id FROM device_person AS mine JOIN device_person AS other USING (device_id)"
        "  JOIN device ON device.id = device_id WHERE mine.person_id = ? AND device.role = 'caregiver'"
        "  AND revoked_at IS NULL UNION SELECT ?)"
        " ORDER BY visit_on",
        (today, person_id, person_id),
    )


def booked(db: Database, person_id: str, until: str | None = None) -> list[str]:
    """Days of a person's visits that stand, as booked by an instant (None: now). Reads only."""
    rows = db.conn.execute(
        f"SELECT visit_on FROM visit WHERE person_id = ?1 AND {STANDS} AND (?2 IS NULL OR created_at < ?2)"
        " ORDER BY visit_on",
        (person_id, until),
    )
    return [row[0] for row in rows]


def next_of(db: Database, person_ids: Iterable[str], today: str) -> dict[str, Row]:
    """The next visit of each person who has one. Reads only."""
    rows = [row for row in of_people(db, person_ids, today) if not row["cancelled"] and row["outcome"] is None]
    return {row["person_id"]: row for row in reversed(rows)}
