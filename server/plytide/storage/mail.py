"""Mail waiting to be sent ↔ rows. Written in the transaction that opened the signals it tells of."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id

COLUMNS = ("id", "kind", "to_address", "subject", "body", "tries")
TO_ANYBODY_NOW = ("urgent", "digest")  # goes to whoever the clinic names now; the rest to an address of its day
NEWS_FOR = timedelta(days=7)  # a word about a change of the way in is no news after that; judgement


def add(db: Database, kind: str, to_address: str, subject: str, body: str, due_at: datetime, now: datetime) -> None:
    """Only inside a write transaction. A waiting mail of the same kind to the same address takes it along: it is
    due no later than the new one would be, however often it failed before.
    """
    waiting = db.conn.execute(
        "UPDATE mail SET subject = ?, body = ?, due_at = min(due_at, ?), created_at = ?"
        " WHERE kind = ? AND to_address = ? AND sent_at IS NULL",
        (subject, body, due_at.isoformat(), now.isoformat(), kind, to_address),
    ).rowcount
    if not waiting:
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
        f"SELECT {', '.join(COLUMNS)} FROM mail WHERE sent_at IS NULL AND due_at <= ? ORDER BY created_at",
        (now.isoformat(),),
    )
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def sent(db: Database, mail_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    db.conn.execute("UPDATE mail SET sent_at = ? WHERE id = ?", (now.isoformat(), mail_id))


def failed(db: Database, mail_id: str, again: datetime) -> None:
    """Try again then. Only inside a write transaction."""
    db.conn.execute("UPDATE mail SET tries = tries + 1, due_at = ? WHERE id = ?", (again.isoformat(), mail_id))


def moved(db: Database, before: str | None, after: str | None, now: datetime) -> None:
    """Somebody's address was changed: what waits for the old one goes to the new. Only inside a write transaction."""
    if before and after and before != after:
        db.conn.execute(
            f"UPDATE mail SET to_address = ?, tries = 0, due_at = min(due_at, ?) WHERE to_address = ? AND sent_at IS NULL"
            f" AND kind IN {TO_ANYBODY_NOW}",
            (after, now.isoformat(), before),
        )


def drop_unwanted(db: Database, now: datetime) -> None:
    """Forget what waits for an address nobody has any longer, or is no news any longer.

    Only inside a write transaction.
    """
    wanted = addresses(db)
    db.conn.execute(
        f"DELETE FROM mail WHERE sent_at IS NULL AND (kind IN {TO_ANYBODY_NOW} AND to_address NOT IN"
        f" ({', '.join('?' * len(wanted))}) OR kind NOT IN {TO_ANYBODY_NOW} AND created_at < ?)",
        (*wanted, (now - NEWS_FOR).isoformat()),
    )
    db.conn.execute(
        "DELETE FROM set_aside WHERE what = 'mail' AND subject NOT IN (SELECT to_address FROM mail WHERE sent_at IS NULL)"
    )


def has_unwanted(db: Database) -> bool:
    """Whether anything waits that failed before: only then is there something to forget. Reads only."""
    return bool(
        db.conn.execute(
            "SELECT 1 WHERE EXISTS (SELECT 1 FROM mail WHERE sent_at IS NULL AND tries > 0)"
            " OR EXISTS (SELECT 1 FROM set_aside WHERE what = 'mail')"
        ).fetchone()
    )


def addresses(db: Database) -> list[str]:
    """Where the clinic wants its mail: the clinic's own address and those of its staff. Reads only."""
    clinic = db.conn.execute("SELECT settings ->> 'mail' FROM clinic").fetchone()
    staff = db.conn.execute("SELECT mail FROM staff WHERE mail IS NOT NULL AND left_at IS NULL ORDER BY login")
    return list(dict.fromkeys([*([clinic[0]] if clinic and clinic[0] else []), *(row[0] for row in staff)]))
