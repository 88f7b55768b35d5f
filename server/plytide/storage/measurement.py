"""Measurements of a limb ↔ rows."""

from __future__ import annotations

from sqlite_utils import Database

from plytide.storage.corrections import counts
from plytide.storage.rows import Row, select

COLUMNS = (
    "id",
    "limb_id",
    "measured_on",
    "levels",
    "minutes_since_doffing",
    "weight_kg",
    "measured_by",
    "height_cm",
)


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Those that count, by date; with `until`, those that counted at that instant. Reads only."""
    where = f"limb_id = ?2 AND {counts('measurement')} ORDER BY measured_on, id"
    return select(db, "measurement", COLUMNS, where, (until, limb_id))
