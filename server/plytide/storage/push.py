"""Where a phone's reminders go, and when ↔ rows."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlite_utils import Database

COLUMNS = ("device_id", "subscription", "at", "zone", "quiet_from", "quiet_to", "paused_until", "next_at", "language")


def _rows(db: Database, where: str, args: tuple[Any, ...]) -> list[dict[str, Any]]:
    found = []
    for row in db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM push WHERE {where}", args):
        push = dict(zip(COLUMNS, row, strict=True))
        found.append(push | {"subscription": json.loads(push["subscription"]), "at": json.loads(push["at"])})
    return found


def of_device(db: Database, device_id: str) -> dict[str, Any] | None:
    found = _rows(db, "device_id = ?", (device_id,))
    return found[0] if found else None


def keep(db: Database, device_id: str, row: dict[str, Any]) -> None:
    """One a phone; a new one takes the place of the old. Only inside a write transaction."""
    values = {**row, "device_id": device_id}
    values |= {"subscription": json.dumps(row["subscription"]), "at": json.dumps(row["at"])}
    changed = ", ".join(f"{column} = excluded.{column}" for column in COLUMNS[1:])
    db.conn.execute(
        f"INSERT INTO push ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"
        f" ON CONFLICT DO UPDATE SET {changed}",
        [values.get(column) for column in COLUMNS],
    )


def forget(db: Database, device_id: str) -> None:
    """Only inside a write transaction."""
    db.conn.execute("DELETE FROM push WHERE device_id = ?", (device_id,))


def set_next(db: Database, device_id: str, next_at: str | None, paused_until: str | None) -> None:
    """Only inside a write transaction."""
    db.conn.execute(
        "UPDATE push SET next_at = ?, paused_until = ? WHERE device_id = ?", (next_at, paused_until, device_id)
    )


def due(db: Database, now: datetime) -> list[dict[str, Any]]:
    """Reminders whose time has come, of phones that have not been revoked. Reads only."""
    return _rows(
        db,
        "next_at <= ? AND EXISTS (SELECT 1 FROM device WHERE device.id = push.device_id AND revoked_at IS NULL)",
        (now.isoformat(),),
    )


def logged_on(db: Database, device_id: str, day: str) -> bool:
    """Whether every limb of a phone has a check-in for that calendar day. Reads only."""
    row = db.conn.execute(
        "SELECT count(*) FROM limb JOIN device_person USING (person_id) WHERE device_id = ? AND NOT EXISTS"
        " (SELECT 1 FROM checkin WHERE checkin.limb_id = limb.id AND body ->> 'date' = ?"
        "  AND checkin.seq > (SELECT max(seq) FROM checkin) - 100000)",
        (device_id, day),
    ).fetchone()
    return int(row[0]) == 0
