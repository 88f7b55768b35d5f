"""What the clinic has in stock ↔ rows: items, and a ledger that is only added to. What is on hand is its sum."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id

Row = dict[str, Any]

ITEM = ("id", "kind", "name", "size", "maker", "ply", "from_mm", "to_mm", "counted_in", "least", "closed_at")
MOVEMENT = (
    "n", "id", "item_id", "deed", "hand", "on_order", "lot", "expires_on", "reason", "import_id", "by_staff",
    "created_at",
)  # fmt: skip
IMPORT = ("id", "name", "how", "sha256", "rows", "faults", "by_staff", "created_at", "undone_at")


def _select(db: Database, table: str, columns: tuple[str, ...], where: str, args: Iterable[Any] = ()) -> list[Row]:
    rows = db.conn.execute(f"SELECT {', '.join(columns)} FROM {table} WHERE {where}", tuple(args))
    return [dict(zip(columns, row, strict=True)) for row in rows]


def items(db: Database) -> list[Row]:
    """Those not closed, by kind and name. Reads only."""
    return _select(db, "stock_item", ITEM, "closed_at IS NULL ORDER BY kind, name COLLATE NOCASE, size, id")


def item(db: Database, item_id: str) -> Row | None:
    found = _select(db, "stock_item", ITEM, "id = ?", (item_id,))
    return found[0] if found else None


def add_item(db: Database, values: Row, staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    row = {"id": new_id(), **values, "by_staff": staff_id, "created_at": now.isoformat()}
    marks = ", ".join("?" * len(row))
    db.conn.execute(f"INSERT INTO stock_item ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))
    return str(row["id"])


def change_item(db: Database, item_id: str, values: Row) -> None:
    """Only inside a write transaction."""
    if values:
        named = ", ".join(f"{column} = ?" for column in values)
        db.conn.execute(f"UPDATE stock_item SET {named} WHERE id = ?", (*values.values(), item_id))


def move(db: Database, values: Row, staff_id: str, now: datetime) -> None:
    """One line of the ledger. Only inside a write transaction."""
    row = {"id": new_id(), **values, "by_staff": staff_id, "created_at": now.isoformat()}
    marks = ", ".join("?" * len(row))
    db.conn.execute(f"INSERT INTO stock_movement ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))


def movement(db: Database, movement_id: str) -> Row | None:
    found = _select(db, "stock_movement", MOVEMENT, "id = ?", (movement_id,))
    return found[0] if found else None


def movements(db: Database, item_id: str, most: int = 200) -> list[Row]:
    """The newest lines of an item's ledger, newest first. Reads only."""
    return _select(db, "stock_movement", MOVEMENT, "item_id = ? ORDER BY n DESC LIMIT ?", (item_id, most))


def ledger(db: Database) -> list[Row]:
    """Every line, oldest first. Reads only."""
    return _select(db, "stock_movement", MOVEMENT, "true ORDER BY n")


def sums(db: Database, item_id: str | None = None) -> dict[str, tuple[int, int]]:
    """item id → (on hand, on order), in pieces. Reads only."""
    rows = db.conn.execute(
        "SELECT item_id, sum(hand), sum(on_order) FROM stock_movement WHERE ?1 IS NULL OR item_id = ?1"
        " GROUP BY item_id",
        (item_id,),
    )
    return {row[0]: (row[1], row[2]) for row in rows}


def lots(db: Database, item_id: str | None = None) -> dict[str, list[tuple[str, str | None, int]]]:
    """item id → (lot, its last day, on hand) of lots that are not used up, those that end first in front.

    The day is the one said last since the lot was empty. Reads only.
    """
    rows = db.conn.execute(
        "WITH line AS (SELECT n, item_id, lot, expires_on, hand, sum(hand) OVER (PARTITION BY item_id, lot ORDER BY n)"
        " AS held FROM stock_movement WHERE ?1 IS NULL OR item_id = ?1),"
        " since AS (SELECT *, max(CASE WHEN held = 0 THEN n ELSE 0 END) OVER (PARTITION BY item_id, lot) AS empty"
        " FROM line),"
        " whole AS (SELECT item_id, lot, sum(hand) AS hand,"
        " max(CASE WHEN expires_on IS NOT NULL AND n > empty THEN n END) AS n"
        " FROM since GROUP BY item_id, lot HAVING sum(hand) != 0)"
        " SELECT whole.item_id, whole.lot, said.expires_on, whole.hand FROM whole LEFT JOIN stock_movement AS said"
        " USING (n) ORDER BY said.expires_on IS NULL, said.expires_on, whole.lot",
        (item_id,),
    )
    found: dict[str, list[tuple[str, str | None, int]]] = {}
    for owner, lot, expires_on, hand in rows:
        found.setdefault(owner, []).append((lot, expires_on, hand))
    return found


def lot_ends(db: Database, item_id: str, lot: str, before: int | None = None) -> str | None:
    """The last day of a lot as it was entered last; of pieces without a lot only while some are there.

    With `before` as it was ahead of that line. Reads only.
    """
    if not lot and before is None:
        return next((ends for name, ends, _ in lots(db, item_id).get(item_id, []) if not name), None)
    row = db.conn.execute(
        "SELECT expires_on FROM stock_movement WHERE item_id = ?1 AND lot = ?2 AND expires_on IS NOT NULL"
        " AND (?3 IS NULL OR n < ?3) ORDER BY n DESC LIMIT 1",
        (item_id, lot, before),
    ).fetchone()
    return str(row[0]) if row else None


def lines_of(db: Database, movement_id: str) -> list[Row]:
    """The lines one movement made, a lot each, oldest first. Reads only."""
    return _select(db, "stock_movement", MOVEMENT, "id = ?1 OR id GLOB ?1 || '/*' ORDER BY n", (movement_id,))


def held_after(db: Database, line: Row) -> int:
    """What was on hand of a line's lot once it was entered. Reads only."""
    row = db.conn.execute(
        "SELECT sum(hand) FROM stock_movement WHERE item_id = ? AND lot = ? AND n <= ?",
        (line["item_id"], line["lot"], line["n"]),
    ).fetchone()
    return int(row[0])


def counted_since(db: Database, line: Row) -> bool:
    """Whether somebody counted a line's lot after it. Reads only."""
    row = db.conn.execute(
        "SELECT 1 FROM stock_movement WHERE item_id = ? AND lot = ? AND n > ? AND deed = 'counted'"
        " AND import_id IS NOT ? LIMIT 1",
        (line["item_id"], line["lot"], line["n"], line["import_id"]),
    ).fetchone()
    return row is not None


def last_taken(db: Database, item_id: str) -> Row | None:
    """The newest line that took a piece away. Reads only."""
    found = _select(db, "stock_movement", MOVEMENT, "item_id = ? AND hand < 0 ORDER BY n DESC LIMIT 1", (item_id,))
    return found[0] if found else None


def add_import(db: Database, values: Row, staff_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    row = {**values, "faults": json.dumps(values["faults"], ensure_ascii=False), "by_staff": staff_id}
    row["created_at"] = now.isoformat()
    marks = ", ".join("?" * len(row))
    db.conn.execute(f"INSERT INTO stock_import ({', '.join(row)}) VALUES ({marks})", tuple(row.values()))


def imports(db: Database, import_id: str | None = None, most: int = 20) -> list[Row]:
    """Newest first. Reads only."""
    where = "(?1 IS NULL OR id = ?1) ORDER BY created_at DESC, rowid DESC LIMIT ?2"
    rows = _select(db, "stock_import", IMPORT, where, (import_id, most))
    return [row | {"faults": json.loads(row["faults"])} for row in rows]


def undo_import(db: Database, import_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    db.conn.execute("UPDATE stock_import SET undone_at = ? WHERE id = ?", (now.isoformat(), import_id))


def of_import(db: Database, import_id: str) -> list[Row]:
    """The lines an import made, oldest first. Reads only."""
    return _select(db, "stock_movement", MOVEMENT, "import_id = ? ORDER BY n", (import_id,))
