"""Parts with a date: the end of a warranty, or of a life, as the clinic entered it ↔ rows. Taken out, never erased."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage import making
from plytide.storage.ids import new_id

COLUMNS = ("id", "limb_id", "what", "ends_on", "by_staff", "created_at")


def add(
    db: Database, limb_id: str, what: str, ends_on: str, staff_id: str, now: datetime, component_id: str | None = None
) -> str:
    """Only inside a write transaction."""
    part_id = new_id()
    values = (part_id, limb_id, what, ends_on, staff_id, now.isoformat(), component_id)
    columns = (*COLUMNS, "component_id")
    db.conn.execute(f"INSERT INTO part ({', '.join(columns)}) VALUES (?, ?, ?, ?, ?, ?, ?)", values)
    return part_id


def take_out_of(db: Database, component_id: str, now: datetime) -> None:
    """The dates of a component that is used no more. Only inside a write transaction."""
    db.conn.execute(
        "UPDATE part SET taken_out_at = ? WHERE component_id = ? AND taken_out_at IS NULL",
        (now.isoformat(), component_id),
    )


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[dict[str, Any]]:
    """Those not taken out, by date, without those of a socket that was a mistake; with `until` as they stood then.

    Reads only.
    """
    stood = (
        "taken_out_at IS NULL" if until is None else "created_at < ? AND (taken_out_at IS NULL OR taken_out_at >= ?)"
    )
    rows = db.conn.execute(
        f"SELECT {', '.join(COLUMNS)}, (SELECT socket_id FROM component WHERE id = component_id) FROM part"
        f" WHERE limb_id = ? AND {stood} ORDER BY ends_on, id",
        (limb_id, *([until, until] if until else [])),
    )
    mistaken = making.mistaken(db, limb_id, until)
    return [dict(zip(COLUMNS, row[:-1], strict=True)) for row in rows if row[-1] not in mistaken]


def take_out(db: Database, part_id: str, now: datetime) -> str | None:
    """The limb it was of; None where there was none. Only inside a write transaction."""
    row = db.conn.execute(
        "UPDATE part SET taken_out_at = ? WHERE id = ? AND taken_out_at IS NULL RETURNING limb_id",
        (now.isoformat(), part_id),
    ).fetchone()
    return row[0] if row else None
