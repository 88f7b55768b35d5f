"""Sockets being made, what was done to them, the clinic's lists of steps, what was taken from stock ↔ rows."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id

Row = dict[str, Any]

MAKING = ("id", "limb_id", "made", "begun_on", "list", "by_staff", "created_at")
EVENT = ("n", "id", "making_id", "what", "step", "body", "by_staff", "created_at")
LIST = ("n", "made", "list", "by_staff", "created_at")
USE = ("id", "making_id", "item_id", "pieces", "lots", "despite", "by_staff", "created_at", "given_back_at")
JSON_COLUMNS = frozenset({"list", "body", "lots"})


def _select(db: Database, table: str, columns: tuple[str, ...], where: str, args: tuple[Any, ...] = ()) -> list[Row]:
    rows = db.conn.execute(f"SELECT {', '.join(columns)} FROM {table} WHERE {where}", args)
    return [
        {
            name: json.loads(value) if name in JSON_COLUMNS and value is not None else value
            for name, value in zip(columns, row, strict=True)
        }
        for row in rows
    ]


def _insert(db: Database, table: str, values: Row, staff_id: str, now: datetime) -> None:
    row = {**values, "by_staff": staff_id, "created_at": now.isoformat()}
    packed = [
        json.dumps(value, ensure_ascii=False) if name in JSON_COLUMNS and value is not None else value
        for name, value in row.items()
    ]
    db.conn.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", packed)


def begin(db: Database, values: Row, staff_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    _insert(db, "making", values, staff_id, now)


def one(db: Database, making_id: str) -> Row | None:
    found = _select(db, "making", MAKING, "id = ?", (making_id,))
    return found[0] if found else None


def of_limb(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Newest first; `until` drops those begun later. Reads only."""
    where = "limb_id = ?1 AND (?2 IS NULL OR created_at < ?2) ORDER BY begun_on DESC, created_at DESC, id DESC"
    return _select(db, "making", MAKING, where, (limb_id, until))


@dataclass(frozen=True, slots=True)
class Event:
    """What was done to a making; `step`: to which of its steps."""

    id: str
    making_id: str
    what: str
    body: Row
    step: str | None = None


def add_event(db: Database, event: Event, staff_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    values = {"id": event.id, "making_id": event.making_id, "what": event.what, "step": event.step, "body": event.body}
    _insert(db, "making_event", values, staff_id, now)


def note_event(db: Database, making_id: str, what: str, body: Row, staff_id: str, now: datetime) -> None:
    """An event that comes with another one. Only inside a write transaction."""
    add_event(db, Event(new_id(), making_id, what, body), staff_id, now)


def event(db: Database, event_id: str) -> Row | None:
    found = _select(db, "making_event", EVENT, "id = ?", (event_id,))
    return found[0] if found else None


def events(db: Database, making_id: str, until: str | None = None) -> list[Row]:
    """Oldest first. Reads only."""
    where = "making_id = ?1 AND (?2 IS NULL OR created_at < ?2) ORDER BY n"
    return _select(db, "making_event", EVENT, where, (making_id, until))


def _mistaken(of: str = "", by: str = "") -> str:
    return (
        "SELECT finish.body ->> 'socket_id' FROM making JOIN making_event AS finish ON finish.making_id = making.id"
        f" WHERE {of} finish.what = 'finish' AND 'void' = (SELECT what FROM making_event AS later"
        f"  WHERE later.making_id = making.id AND what IN ('void', 'restore') {by} ORDER BY n DESC LIMIT 1)"
    )


#: The sockets whose making is a mistake today, of all limbs, for a query.
MISTAKEN = _mistaken()


def mistaken(db: Database, limb_id: str, until: str | None = None) -> set[str]:
    """Sockets of a limb whose making was taken out as a mistake, and not put back. Reads only."""
    rows = db.conn.execute(_mistaken("limb_id = ?1 AND", "AND (?2 IS NULL OR created_at < ?2)"), (limb_id, until))
    return {str(row[0]) for row in rows}


def keep_list(db: Database, made: str, steps: Row | None, staff_id: str, now: datetime) -> None:
    """The clinic's steps from now on; None puts ours back. Only inside a write transaction."""
    _insert(db, "making_list", {"made": made, "list": steps}, staff_id, now)


def lists(db: Database, made: str) -> list[Row]:
    """Every version, newest first. Reads only."""
    return _select(db, "making_list", LIST, "made = ? ORDER BY n DESC", (made,))


def add_use(db: Database, values: Row, staff_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    _insert(db, "stock_use", values, staff_id, now)


def use(db: Database, use_id: str) -> Row | None:
    found = _select(db, "stock_use", USE, "id = ?", (use_id,))
    return found[0] if found else None


def uses(db: Database, making_id: str) -> list[Row]:
    """Oldest first. Reads only."""
    return _select(db, "stock_use", USE, "making_id = ? ORDER BY rowid", (making_id,))


def set_given_back(db: Database, use_id: str, at: str | None, lots: list[Any] | None = None) -> None:
    """It went back, or (None) was taken again, then from other lots maybe. Only inside a write transaction."""
    db.conn.execute("UPDATE stock_use SET given_back_at = ? WHERE id = ?", (at, use_id))
    if lots is not None:
        db.conn.execute("UPDATE stock_use SET lots = ? WHERE id = ?", (json.dumps(lots), use_id))
