"""Outcome measures of limbs ↔ rows. Only added to; a mistake is named by a later row."""

from __future__ import annotations

from datetime import datetime

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.rows import Row, select

COLUMNS = (
    "id", "limb_id", "kind", "measured_on", "value", "distance_m", "device", "note", "of", "by_staff", "created_at",
)  # fmt: skip


def add(db: Database, values: Row, staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    row = {"id": new_id(), **values, "by_staff": staff_id, "created_at": now.isoformat()}
    marks = ", ".join("?" * len(row))
    db.conn.execute(f"INSERT INTO outcome_measure ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))
    return str(row["id"])


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """By day, without those that were a mistake; with `until` as they stood by that instant. Reads only."""
    where = "limb_id = ?1 AND (?2 IS NULL OR created_at < ?2) ORDER BY measured_on, n"
    rows = select(db, "outcome_measure", COLUMNS, where, (limb_id, until))
    gone = {row["of"] for row in rows}
    return [row for row in rows if row["kind"] != "void" and row["id"] not in gone]


def one(db: Database, outcome_measure_id: str) -> Row | None:
    """A measure that stands. Reads only."""
    where = "id = ? AND kind != 'void' AND id NOT IN (SELECT of FROM outcome_measure WHERE of IS NOT NULL)"
    found = select(db, "outcome_measure", COLUMNS, where, (outcome_measure_id,))
    return found[0] if found else None
