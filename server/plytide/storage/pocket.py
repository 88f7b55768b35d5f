"""Pocket plans, version after version ↔ rows. Only added to; the newest of a limb counts."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.rows import Row, select

PARTS = ("loose", "tight", "wear", "care", "bring")
COLUMNS = ("id", "limb_id", *PARTS, "for_role", "by_staff", "created_at")


def add(db: Database, values: Row, staff_id: str, now: datetime) -> str:
    """A version of a limb's plan. Only inside a write transaction."""
    row = {"id": new_id(), **values, "by_staff": staff_id, "created_at": now.isoformat()}
    db.conn.execute(f"INSERT INTO pocket ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))
    return str(row["id"])


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Every version, newest first; with `until` those there were by that instant. Reads only."""
    where = "limb_id = ?1 AND (?2 IS NULL OR created_at < ?2) ORDER BY n DESC"
    return select(db, "pocket", COLUMNS, where, (limb_id, until))


def newest(db: Database, limb_ids: Iterable[str]) -> dict[str, Row]:
    """limb id → its newest version, also one that takes the plan back. Reads only."""
    where = "n IN (SELECT max(n) FROM pocket WHERE limb_id IN (SELECT value FROM json_each(?)) GROUP BY limb_id)"
    return {row["limb_id"]: row for row in select(db, "pocket", COLUMNS, where, (json.dumps(list(limb_ids)),))}
