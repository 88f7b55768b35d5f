"""Enrolments and phones of a clinic ↔ rows."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id


@dataclass(frozen=True, slots=True)
class Device:
    id: str
    role: str
    label: str
    person_ids: tuple[str, ...]


def add_enrolment(db: Database, role: str, person_ids: list[str], staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    enrolment_id = new_id()
    db.conn.execute(
        "INSERT INTO enrolment VALUES (?, ?, ?, ?, ?)",
        (enrolment_id, role, json.dumps(person_ids), staff_id, now.isoformat()),
    )
    return enrolment_id


def add_device(db: Database, device_id: str, enrolment_id: str, label: str, now: datetime) -> tuple[Device, bool]:
    """The phone that uses an enrolment's code, and whether it is new: an earlier try may have got so far.

    Only inside a write transaction.
    """
    role, people = db.conn.execute("SELECT role, people FROM enrolment WHERE id = ?", (enrolment_id,)).fetchone()
    person_ids = tuple(json.loads(people))
    is_new = db.conn.execute(
        "INSERT OR IGNORE INTO device (id, role, label, enrolled_at) VALUES (?, ?, ?, ?)",
        (device_id, role, label, now.isoformat()),
    ).rowcount
    db.conn.executemany(
        "INSERT OR IGNORE INTO device_person VALUES (?, ?)", [(device_id, person_id) for person_id in person_ids]
    )
    return Device(device_id, role, label, person_ids), bool(is_new)


def live_device(db: Database, device_id: str) -> Device | None:
    """A phone that has not been revoked, and whom it may write for. Reads only."""
    row = db.conn.execute("SELECT role, label FROM device WHERE id = ? AND revoked_at IS NULL", (device_id,)).fetchone()
    if row is None:
        return None
    people = db.conn.execute("SELECT person_id FROM device_person WHERE device_id = ? ORDER BY person_id", (device_id,))
    return Device(device_id, row[0], row[1], tuple(person[0] for person in people))


def is_revoked(db: Database, device_id: str) -> bool:
    """Whether the clinic ended a phone's link; False for one this file does not know. Reads only."""
    row = db.conn.execute("SELECT revoked_at FROM device WHERE id = ?", (device_id,)).fetchone()
    return row is not None and row[0] is not None


def limb_ids(db: Database, device_id: str) -> dict[str, str | None]:
    """The limbs a phone may write for, each with its date of amputation. Reads only."""
    rows = db.conn.execute(
        "SELECT limb.id, limb.amputated_on FROM device_person JOIN limb USING (person_id)"
        " WHERE device_person.device_id = ?",
        (device_id,),
    )
    return dict(rows.fetchall())


def own_only(db: Database, device: Device) -> dict[str, str]:
    """Limbs of which a caregiver's phone gets only what it wrote itself: limb id → the phone's id. Reads only."""
    if device.role != "caregiver":
        return {}
    rows = db.conn.execute(
        "SELECT limb.id FROM device_person JOIN person ON person.id = device_person.person_id"
        " JOIN limb ON limb.person_id = person.id WHERE device_id = ? AND own_log",
        (device.id,),
    )
    return {row[0]: device.id for row in rows}


def withheld(db: Database, device: Device) -> frozenset[str]:
    """Check-ins that stay from a caregiver's phone: others wrote them while the person wrote for themselves.

    Reads only.
    """
    if device.role != "caregiver":
        return frozenset()
    rows = db.conn.execute(
        "SELECT checkin.id FROM device_person JOIN own_log_span USING (person_id) JOIN limb USING (person_id)"
        " JOIN checkin ON limb_id = limb.id AND checkin.seq BETWEEN from_seq AND coalesce(to_seq, 9223372036854775807)"
        " WHERE device_id = ?1 AND written_by IS NOT ?1",
        (device.id,),
    )
    return frozenset(row[0] for row in rows)


def partly_seen(db: Database, device: Device) -> frozenset[str]:
    """People of whom a caregiver's phone does not hold all that was written, or that will be. Reads only."""
    ids = json.dumps(sorted(withheld(db, device)))
    rows = db.conn.execute(
        "SELECT person_id FROM limb WHERE id IN (SELECT limb_id FROM checkin WHERE id IN (SELECT value FROM json_each(?)))",
        (ids,),
    )
    limbs = own_only(db, device)
    alone = db.conn.execute(
        "SELECT person_id FROM limb WHERE id IN (SELECT value FROM json_each(?))", (json.dumps(list(limbs)),)
    )
    return frozenset(row[0] for row in (*rows, *alone))


def writers(db: Database, person_ids: tuple[str, ...]) -> dict[str, dict[str, str]]:
    """Who the phones of these people are: device id → role and label. Reads only."""
    marks = ", ".join("?" * len(person_ids))
    rows = db.conn.execute(
        f"SELECT DISTINCT device.id, role, label FROM device JOIN device_person ON device_id = device.id"
        f" WHERE person_id IN ({marks})",
        person_ids,
    )
    return {row[0]: {"device_id": row[0], "role": row[1], "label": row[2]} for row in rows}


def caregivers(db: Database, person_id: str) -> frozenset[str]:
    """The caregivers' phones of a person. Reads only."""
    rows = db.conn.execute(
        "SELECT device.id FROM device JOIN device_person ON device_id = device.id"
        " WHERE person_id = ? AND role = 'caregiver'",
        (person_id,),
    )
    return frozenset(row[0] for row in rows)


def writers_of_limbs(db: Database, device_id: str) -> set[tuple[str, str]]:
    """(phone, limb) of every phone that writes, or wrote, for a limb this phone writes for. Reads only."""
    rows = db.conn.execute(
        "SELECT other.device_id, limb.id FROM device_person AS mine JOIN limb USING (person_id)"
        " JOIN device_person AS other USING (person_id) WHERE mine.device_id = ?",
        (device_id,),
    )
    return {(row[0], row[1]) for row in rows}


def of_person(db: Database, person_id: str) -> list[dict[str, Any]]:
    """All phones a person has had, newest first. Reads only."""
    columns = ("id", "role", "label", "enrolled_at", "seen_at", "skew_seconds", "revoked_at")
    rows = db.conn.execute(
        f"SELECT {', '.join('device.' + column for column in columns)} FROM device"
        " JOIN device_person ON device_id = device.id WHERE person_id = ? ORDER BY enrolled_at DESC",
        (person_id,),
    )
    return [dict(zip(columns, row, strict=True)) for row in rows]


def first_joined(db: Database, person_id: str) -> str | None:
    """The date the first phone of a person joined, or None. Reads only."""
    row = db.conn.execute(
        "SELECT min(enrolled_at) FROM device JOIN device_person ON device_id = device.id WHERE person_id = ?",
        (person_id,),
    ).fetchone()
    return row[0][:10] if row and row[0] else None


def label(db: Database, device_id: str) -> str | None:
    row = db.conn.execute("SELECT label FROM device WHERE id = ?", (device_id,)).fetchone()
    return row[0] if row else None


def seen(db: Database, device_id: str, now: datetime, skew_seconds: int | None) -> None:
    """Only inside a write transaction."""
    db.conn.execute(
        "UPDATE device SET seen_at = ?, skew_seconds = coalesce(?, skew_seconds) WHERE id = ?",
        (now.isoformat(), skew_seconds, device_id),
    )


def revoke(db: Database, device_id: str, now: datetime) -> bool:
    """Whether there was a phone to revoke. Only inside a write transaction."""
    return bool(
        db.conn.execute(
            "UPDATE device SET revoked_at = ? WHERE id = ? AND revoked_at IS NULL",
            (now.isoformat(), device_id),
        ).rowcount
    )
