"""Letters as they were sent, and the clinic's own templates for them ↔ rows. Only added to."""

from __future__ import annotations

import json
from datetime import datetime

from sqlite_utils import Database

from plytide.storage.rows import Row

COLUMNS = ("id", "person_id", "limb_id", "kind", "content", "replaces", "by_staff", "created_at")
TEMPLATE = ("kind", "text", "by_staff", "created_at")


def add(db: Database, values: Row, staff_id: str, now: datetime) -> None:
    """Keep a letter. Only inside a write transaction."""
    row = {**values, "content": json.dumps(values["content"], ensure_ascii=False)}
    row |= {"by_staff": staff_id, "created_at": now.isoformat()}
    db.conn.execute(f"INSERT INTO letter ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))


def one(db: Database, letter_id: str) -> Row | None:
    """Reads only."""
    found = _letters(db, "id = ?", letter_id)
    return found[0] if found else None


def of_person(db: Database, person_id: str) -> list[Row]:
    """Newest first. Reads only."""
    return _letters(db, "person_id = ? ORDER BY created_at DESC, id DESC", person_id)


def _letters(db: Database, where: str, value: str) -> list[Row]:
    rows = db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM letter WHERE {where}", (value,))
    letters = [dict(zip(COLUMNS, row, strict=True)) for row in rows]
    return [letter | {"content": json.loads(letter["content"])} for letter in letters]


def change_template(db: Database, kind: str, text: str | None, staff_id: str, now: datetime) -> None:
    """The clinic's words for a kind of letter from now on; None puts ours back. Only inside a write transaction."""
    values = (kind, text, staff_id, now.isoformat())
    db.conn.execute(f"INSERT INTO letter_template ({', '.join(TEMPLATE)}) VALUES (?, ?, ?, ?)", values)


def templates(db: Database) -> dict[str, Row]:
    """kind → the newest row of the clinic's own, also where it put ours back. Reads only."""
    rows = db.conn.execute(f"SELECT {', '.join(TEMPLATE)} FROM letter_template ORDER BY n")
    return {row[0]: dict(zip(TEMPLATE, row, strict=True)) for row in rows}
