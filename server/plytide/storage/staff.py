"""Staff of a clinic ↔ rows."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id

COLUMNS = ("id", "login", "name", "role", "password_hash", "mail")


def add_staff(
    db: Database, login: str, name: str, role: str, password_hash: str, now: datetime, mail: str | None = None
) -> str:
    """Only inside a write transaction."""
    staff_id = new_id()
    db.conn.execute(
        "INSERT INTO staff VALUES (?, ?, ?, ?, ?, ?, ?, NULL)",
        (staff_id, login, name, role, password_hash, mail, now.isoformat()),
    )
    return staff_id


def one(db: Database, staff_id: str) -> dict[str, Any] | None:
    """A member of staff who has not left. Reads only."""
    row = db.conn.execute(
        f"SELECT {', '.join(COLUMNS)} FROM staff WHERE id = ? AND left_at IS NULL", (staff_id,)
    ).fetchone()
    return dict(zip(COLUMNS, row, strict=True)) if row else None


def everyone(db: Database) -> list[dict[str, Any]]:
    """Id, name and role of all staff. Reads only."""
    rows = db.conn.execute("SELECT id, name, role FROM staff WHERE left_at IS NULL ORDER BY name")
    return [{"id": row[0], "name": row[1], "role": row[2]} for row in rows]


def present(db: Database) -> list[dict[str, Any]]:
    """Id and sign-in name of all staff who have not left. Reads only."""
    rows = db.conn.execute("SELECT id, login FROM staff WHERE left_at IS NULL ORDER BY created_at, id")
    return [{"id": row[0], "login": row[1]} for row in rows]


def set_password(db: Database, staff_id: str, password_hash: str) -> None:
    db.conn.execute("UPDATE staff SET password_hash = ? WHERE id = ?", (password_hash, staff_id))


def set_mail(db: Database, staff_id: str, mail: str | None) -> None:
    """Only inside a write transaction."""
    db.conn.execute("UPDATE staff SET mail = ? WHERE id = ?", (mail, staff_id))


def leave(db: Database, staff_id: str, now: datetime) -> bool:
    """A member of staff has left; their name stays in the record. Only inside a write transaction."""
    return bool(
        db.conn.execute(
            "UPDATE staff SET left_at = ? WHERE id = ? AND left_at IS NULL", (now.isoformat(), staff_id)
        ).rowcount
    )


def names(db: Database) -> dict[str, str]:
    """Id to name of all staff, also of those who left. Reads only."""
    return dict(db.conn.execute("SELECT id, name FROM staff").fetchall())
