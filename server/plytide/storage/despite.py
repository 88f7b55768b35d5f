"""What stood against a socket when it was entered or changed, and why staff went on ↔ rows. Append-only."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database


def add(
    db: Database, socket_id: str, against: Sequence[dict[str, str]], reason: str, staff_id: str, now: datetime
) -> None:
    """Only inside a write transaction, beside the socket or the change it is about."""
    db.conn.execute(
        "INSERT INTO socket_despite (socket_id, stood_against, reason, by_staff, created_at) VALUES (?, ?, ?, ?, ?)",
        (socket_id, json.dumps(list(against)), reason, staff_id, now.isoformat()),
    )


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[dict[str, Any]]:
    """Oldest first; `until` drops those made later. Reads only."""
    rows = db.conn.execute(
        "SELECT socket_id, stood_against, reason, by_staff, created_at FROM socket_despite"
        " WHERE socket_id IN (SELECT id FROM socket WHERE limb_id = ?1) AND (?2 IS NULL OR created_at < ?2) ORDER BY n",
        (limb_id, until),
    )
    return [
        {"socket_id": row[0], "against": json.loads(row[1]), "reason": row[2], "by_staff": row[3], "at": row[4]}
        for row in rows
    ]
