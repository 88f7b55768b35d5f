"""What became of a pad, a measurement or an intervention ↔ rows. Append-only: a record is replaced, voided, put back.

The record itself never changes. The last line about it says whether it counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database


@dataclass(frozen=True, slots=True)
class Record:
    """A pad, a measurement or an intervention of a limb."""

    kind: str
    limb_id: str
    id: str


COLUMNS = ("n", "limb_id", "kind", "record_id", "deed", "replaced_by", "reason", "by_staff", "created_at")

#: Whether a row of `table` counts at an instant (twice a parameter; None: now). A record that took another's place
#: counts from the moment it did, whatever day it speaks of.
COUNTS = (
    "coalesce((SELECT deed FROM correction WHERE record_id = {table}.id"
    " AND ({until} IS NULL OR correction.created_at < {until}) ORDER BY n DESC LIMIT 1), 'restore') = 'restore'"
    " AND NOT EXISTS (SELECT 1 FROM correction WHERE replaced_by = {table}.id"
    " AND {until} IS NOT NULL AND correction.created_at >= {until})"
)


def counts(table: str, until: str = "?1") -> str:
    """The SQL condition for a record of `table` to count; `until` names the parameter of the instant."""
    return COUNTS.format(table=table, until=until)


def _rows(db: Database, where: str, args: tuple[Any, ...]) -> list[dict[str, Any]]:
    rows = db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM correction WHERE {where}", args)
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[dict[str, Any]]:
    """Newest first; `until` drops those made later. Reads only."""
    return _rows(db, "limb_id = ? AND (? IS NULL OR created_at < ?) ORDER BY n DESC", (limb_id, until, until))


def last(db: Database, record_id: str) -> dict[str, Any] | None:
    """The last thing that became of a record, or None. Reads only."""
    found = _rows(db, "record_id = ? ORDER BY n DESC LIMIT 1", (record_id,))
    return found[0] if found else None


def stands(db: Database, record_id: str) -> bool:
    """Whether a record counts now. Reads only."""
    before = last(db, record_id)
    return before is None or before["deed"] == "restore"


def place_of(db: Database, record_id: str) -> str | None:
    """The record whose place this one took, or None. Reads only."""
    row = db.conn.execute("SELECT record_id FROM correction WHERE replaced_by = ?", (record_id,)).fetchone()
    return row[0] if row else None


def standing_kin(db: Database, record_id: str) -> set[str]:
    """Records that count now among those that took this one's place or whose place it took, at any remove: once one
    of them counts, no other may. Reads only.
    """
    rows = db.conn.execute(
        "WITH RECURSIVE kin (id) AS (SELECT ?1"
        " UNION SELECT replaced_by FROM correction JOIN kin ON record_id = kin.id WHERE replaced_by IS NOT NULL"
        " UNION SELECT record_id FROM correction JOIN kin ON replaced_by = kin.id) SELECT id FROM kin WHERE id <> ?1",
        (record_id,),
    )
    return {row[0] for row in rows if stands(db, row[0])}


def record_of(db: Database, record_id: str) -> Record | None:
    """Reads only."""
    row = db.conn.execute(
        "SELECT 'measurement', limb_id FROM measurement WHERE id = ?1"
        " UNION ALL SELECT 'intervention', limb_id FROM intervention WHERE id = ?1"
        " UNION ALL SELECT 'pad', socket.limb_id FROM pad JOIN socket ON socket.id = socket_id WHERE pad.id = ?1",
        (record_id,),
    ).fetchone()
    return Record(row[0], row[1], record_id) if row else None


def add(
    db: Database,
    record: Record,
    deed: str,
    staff_id: str,
    now: datetime,
    *,
    replaced_by: str | None = None,
    reason: str | None = None,
) -> None:
    """Only inside a write transaction."""
    values = (record.limb_id, record.kind, record.id, deed, replaced_by, reason, staff_id, now.isoformat())
    db.conn.execute(
        f"INSERT INTO correction ({', '.join(COLUMNS[1:])}) VALUES ({', '.join('?' * len(values))})", values
    )
