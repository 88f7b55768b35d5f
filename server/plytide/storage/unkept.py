"""Dangers said in entries that could not be kept ↔ rows. A row ends when its entry is kept, or says something else."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from sqlite_utils import Database


class UnkeptRow(NamedTuple):
    entry_id: str
    limb_id: str
    device_id: str
    body: str
    faults: dict[str, list[str]]
    received_at: str


def open_of(db: Database, entry_ids: Sequence[str]) -> dict[str, UnkeptRow]:
    """By entry, what still stands. Reads only."""
    marks = ", ".join("?" * len(entry_ids))
    return {row.entry_id: row for row in _rows(db, f"entry_id IN ({marks}) AND ended_at IS NULL", list(entry_ids))}


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[UnkeptRow]:
    """What stood of a limb at an instant (None: now), in order of arrival. Reads only."""
    return _rows(
        db,
        "limb_id = ? AND (? IS NULL OR received_at <= ?) AND (ended_at IS NULL OR ended_at > ?) ORDER BY n",
        [limb_id, until, until, until or "9"],
    )


def writers(db: Database, limb_id: str) -> list[tuple[str, str | None]]:
    """(entry, phone) of all that was ever heard so of a limb. Reads only."""
    rows = db.conn.execute("SELECT DISTINCT entry_id, device_id FROM unkept WHERE limb_id = ?", (limb_id,))
    return [(row[0], row[1]) for row in rows]


def _rows(db: Database, where: str, args: Sequence[object]) -> list[UnkeptRow]:
    rows = db.conn.execute(
        f"SELECT entry_id, limb_id, device_id, body, faults, received_at FROM unkept WHERE {where}", args
    )
    return [UnkeptRow(row[0], row[1], row[2], row[3], json.loads(row[4]), row[5]) for row in rows]


def add(db: Database, row: UnkeptRow) -> None:
    """Only inside a write transaction."""
    db.conn.execute(
        "INSERT INTO unkept (entry_id, limb_id, device_id, body, faults, received_at) VALUES (?, ?, ?, ?, ?, ?)",
        (*row[:4], json.dumps(row.faults), row.received_at),
    )


def end(db: Database, entry_ids: Sequence[str], now: datetime) -> None:
    """Only inside a write transaction."""
    marks = ", ".join("?" * len(entry_ids))
    db.conn.execute(
        f"UPDATE unkept SET ended_at = ? WHERE entry_id IN ({marks}) AND ended_at IS NULL",
        (now.isoformat(), *entry_ids),
    )
