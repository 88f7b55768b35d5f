"""Calls with a person, or on their account, and what came of them ↔ rows. Only added to."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.rows import Row

COLUMNS = (
    "id", "person_id", "limb_id", "signal_id", "result", "number", "said", "agreed", "next_on", "by_staff", "created_at",
)  # fmt: skip


def add(db: Database, values: Row, staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    row = {"id": new_id(), **values, "by_staff": staff_id, "created_at": now.isoformat()}
    db.conn.execute(f"INSERT INTO contact ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))
    return str(row["id"])


def of_person(db: Database, person_id: str, until: str | None = None) -> list[Row]:
    """Newest first; with `until`, those recorded before that instant. Reads only."""
    rows = db.conn.execute(
        f"SELECT {', '.join(COLUMNS)} FROM contact WHERE person_id = ?1 AND (?2 IS NULL OR created_at < ?2)"
        " ORDER BY created_at DESC, id DESC",
        (person_id, until),
    )
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]
