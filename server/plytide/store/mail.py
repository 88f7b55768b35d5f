"""Mail waiting to be sent ↔ rows. Written in the transaction that opened the signals it tells of."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.store.ids import new_id

COLUMNS = ("id", "kind", "to_address", "subject", "body", "tries")
MOST_TRIES = 12


def add(db: Database, kind: str, to_address: str, subject: str, body: str, due_at: datetime, now: datetime) -> None:
    """Only inside a write transaction. A waiting mail of the same kind to the same address takes it along."""
    waiting = db.conn.execute(
        "SELECT 1 FROM mail WHERE kind = ? AND to_address = ? AND sent_at IS NULL", (kind, to_address)
    ).fetchone()
    if waiting is None:
        db.conn.execute(
            "INSERT INTO mail (id, kind, to_address, subject, body, due_at, created_at) VALUES (?, ?, ?, ?, ?, ?, ?)",
            (new_id(), kind, to_address, subject, body, due_at.isoformat(), now.isoformat()),
        )


def last_of(db: Database, kind: str, to_address: str) -> str | None:
    """When the last mail of this kind to this address was written, or None. Reads only."""
    row = db.conn.execute(
        "SELECT max(created_at) FROM mail WHERE kind = ? AND to_address = ?", (kind, to_address)
    ).fetchone()
    return row[0] if row else None


def due(db: Database, now: datetime) -> list[dict[str, Any]]:
    """Mail to be sent now, oldest first. Reads only."""
    rows = db.conn.execute(
        f"SELECT {', '.join(COLUMNS)} FROM mail WHERE sent_at IS NULL AND due_at <= ? AND tries < ? ORDER BY created_at",
        (now.isoformat(), MOST_TRIES),
    )
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def sent(db: Database, mail_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    db.conn.execute("UPDATE mail SET sent_at = ? WHERE id = ?", (now.isoformat(), mail_id))


def failed(db: Database, mail_id: str, tries: int, now: datetime) -> None:
    """Try again later, each time after a longer wait. Only inside a write transaction."""
    again = now + timedelta(minutes=min(2**tries, 120))
    db.conn.execute("UPDATE mail SET tries = ?, due_at = ? WHERE id = ?", (tries + 1, again.isoformat(), mail_id))


def addresses(db: Database) -> list[str]:
    """Where the clinic wants its mail: the clinic's own address and those of its staff. Reads only."""
    clinic = db.conn.execute("SELECT settings ->> 'mail' FROM clinic").fetchone()
    staff = db.conn.execute("SELECT mail FROM staff WHERE mail IS NOT NULL AND left_at IS NULL ORDER BY login")
    return list(dict.fromkeys([*([clinic[0]] if clinic and clinic[0] else []), *(row[0] for row in staff)]))
