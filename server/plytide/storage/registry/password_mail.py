"""Who asked for a link by mail, and who was sent one ↔ rows of the registry. No secret and no address is among them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.sqlite import write

COLUMNS = ("id", "login", "device", "tries")
Whose = tuple[str, str]


def ask(db: Database, login: str, device: str, now: datetime) -> None:
    """Somebody wants a link for this name, known or not: the same work for both. One that waits takes it along."""
    with write(db):
        # Never a transaction without a change: it would end sooner, and only names that are known wait for long.
        waiting = db.conn.execute("UPDATE password_mail SET login = login WHERE login = ?", (login,)).rowcount
        if not waiting:
            db.conn.execute(
                "INSERT INTO password_mail (id, login, device, asked_at, due_at) VALUES (?, ?, ?, ?, ?)",
                (new_id(), login, device, now.isoformat(), now.isoformat()),
            )


def due(db: Database, now: datetime) -> list[dict[str, Any]]:
    """What to look at now, oldest first. Reads only."""
    rows = db.conn.execute(
        f"SELECT {', '.join(COLUMNS)} FROM password_mail WHERE due_at <= ? ORDER BY asked_at", (now.isoformat(),)
    )
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def give_up(db: Database, asked_before: datetime) -> None:
    """Nobody waits any longer for what was asked before this moment."""
    before = (asked_before.isoformat(),)
    if db.conn.execute("SELECT 1 FROM password_mail WHERE asked_at <= ?", before).fetchone():
        with write(db):
            db.conn.execute("DELETE FROM password_mail WHERE asked_at <= ?", before)


def drop(db: Database, asked_id: str) -> None:
    with write(db):
        db.conn.execute("DELETE FROM password_mail WHERE id = ?", (asked_id,))


def again(db: Database, asked_id: str, tries: int, now: datetime) -> None:
    """It could not be sent: once more, each time after a longer wait."""
    due_at = now + timedelta(minutes=min(2**tries, 120))
    with write(db):
        db.conn.execute(
            "UPDATE password_mail SET tries = ?, due_at = ? WHERE id = ?", (tries + 1, due_at.isoformat(), asked_id)
        )


def mailed(db: Database, whose: Whose, asked_id: str, now: datetime, forget_before: datetime) -> None:
    """It went out: the wish is done, and counts towards the most."""
    with write(db):
        db.conn.execute("DELETE FROM password_mail WHERE id = ?", (asked_id,))
        db.conn.execute("DELETE FROM password_mailed WHERE at <= ?", (forget_before.isoformat(),))
        db.conn.execute("INSERT INTO password_mailed VALUES (?, ?, ?)", (*whose, now.isoformat()))


def count(db: Database, whose: Whose, since: datetime) -> int:
    """How many links this person was sent after `since`. Reads only."""
    row = db.conn.execute(
        "SELECT count(*) FROM password_mailed WHERE clinic_id = ? AND staff_id = ? AND at > ?",
        (*whose, since.isoformat()),
    ).fetchone()
    return int(row[0])
