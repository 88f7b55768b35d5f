"""What was done to a limb ↔ rows."""

from __future__ import annotations

from sqlite_utils import Database

from plytide.storage.corrections import counts
from plytide.storage.rows import Row, select

COLUMNS = ("id", "limb_id", "done_on", "kind", "note", "by_staff", "created_at")


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Those that count, by date; with `until`, those that counted at that instant. Reads only."""
    where = f"limb_id = ?2 AND {counts('intervention')} ORDER BY done_on, id"
    return select(db, "intervention", COLUMNS, where, (until, limb_id))
