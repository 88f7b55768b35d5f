"""Secret addresses at which a calendar elsewhere reads a clinic's visits ↔ rows. The secrets are in the registry."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.rows import Row

COLUMNS = ("id", "label", "shows", "by_staff", "created_at", "revoked_at", "revoked_by", "read_at")


def add(db: Database, label: str, shows: str, staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    feed_id = new_id()
    db.conn.execute(
        "INSERT INTO calendar_feed (id, label, shows, by_staff, created_at) VALUES (?, ?, ?, ?, ?)",
        (feed_id, label, shows, staff_id, now.isoformat()),
    )
    return feed_id


def every(db: Database) -> list[Row]:
    """Newest first, revoked ones too. Reads only."""
    rows = db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM calendar_feed ORDER BY created_at DESC, id DESC")
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def one(db: Database, feed_id: str) -> Row | None:
    return next((row for row in every(db) if row["id"] == feed_id), None)


def revoke(db: Database, feed_id: str, staff_id: str, now: datetime) -> bool:
    """Whether there was one to revoke. Only inside a write transaction."""
    sql = "UPDATE calendar_feed SET revoked_at = ?, revoked_by = ? WHERE id = ? AND revoked_at IS NULL"
    return bool(db.conn.execute(sql, (now.isoformat(), staff_id, feed_id)).rowcount)


def seen(db: Database, feed_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    db.conn.execute("UPDATE calendar_feed SET read_at = ? WHERE id = ?", (now.isoformat(), feed_id))
