"""What a socket is made of: locks, valves, liners and other parts with their numbers ↔ rows. Retired, never erased."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id

Row = dict[str, Any]
COLUMNS = (
    "id", "socket_id", "what", "maker", "serial", "weight_limit_kg", "warranty_until", "life_until", "fitted_on",
    "retired_on", "retired_why", "by_staff", "created_at",
)  # fmt: skip


def _select(db: Database, where: str, *args: str) -> list[Row]:
    rows = db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM component WHERE {where}", args)
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def add(db: Database, socket_id: str, values: Row, staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    row = {"id": new_id(), "socket_id": socket_id, **values, "by_staff": staff_id, "created_at": now.isoformat()}
    db.conn.execute(
        f"INSERT INTO component ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", tuple(row.values())
    )
    return str(row["id"])


def one(db: Database, component_id: str) -> Row | None:
    found = _select(db, "id = ?", component_id)
    return found[0] if found else None


def of_limb(db: Database, limb_id: str) -> list[Row]:
    """By day, those retired too. Reads only."""
    where = "socket_id IN (SELECT id FROM socket WHERE limb_id = ?) ORDER BY fitted_on, created_at, id"
    return _select(db, where, limb_id)


def retire(db: Database, component_id: str, on: str, why: str | None) -> None:
    """Only inside a write transaction."""
    db.conn.execute("UPDATE component SET retired_on = ?, retired_why = ? WHERE id = ?", (on, why, component_id))
