"""Pads set into a socket ↔ rows."""

from __future__ import annotations

from sqlite_utils import Database

from plytide.storage import making
from plytide.storage.corrections import counts
from plytide.storage.rows import Row, select

COLUMNS = ("id", "socket_id", "fitted_on", "thickness_mm", "place", "length_mm", "width_mm", "half_sock_pct")


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Those that count, by date, without those of a mistaken socket; with `until`, as it was then. Reads only."""
    rows = select(
        db,
        "pad",
        COLUMNS,
        f"socket_id IN (SELECT id FROM socket WHERE limb_id = ?2) AND {counts('pad')} ORDER BY fitted_on, id",
        (until, limb_id),
    )
    mistaken = making.mistaken(db, limb_id, until)
    return [row for row in rows if row["socket_id"] not in mistaken]
