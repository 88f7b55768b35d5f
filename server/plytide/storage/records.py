"""What can be mended: a pad, a measurement, an intervention, by its kind."""

from __future__ import annotations

from sqlite_utils import Database

from plytide.storage import intervention, measurement, pad
from plytide.storage.rows import Row, select

COLUMNS = {"pad": pad.COLUMNS, "measurement": measurement.COLUMNS, "intervention": intervention.COLUMNS}


def one(db: Database, kind: str, record_id: str) -> Row | None:
    """One pad, measurement or intervention, whether or not it counts. Reads only."""
    rows = select(db, kind, COLUMNS[kind], "id = ?", (record_id,))
    return rows[0] if rows else None
