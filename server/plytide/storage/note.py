"""Notes on a limb ↔ rows. A note is never changed."""

from __future__ import annotations

from sqlite_utils import Database

from plytide.storage.rows import Row, select

COLUMNS = ("id", "limb_id", "text", "by_staff", "created_at")


def of_limb(db: Database, limb_id: str) -> list[Row]:
    return select(db, "note", COLUMNS, "limb_id = ? ORDER BY created_at", (limb_id,))
