"""What the clinic writes to a person's phones, and what became of it ↔ rows. Only added to."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.rows import Row

COLUMNS = (
    "id", "person_id", "limb_id", "kind", "text", "choices", "for_role", "by_staff", "created_at", "brought_by",
)  # fmt: skip
EVENT = ("id", "message_id", "event", "body", "device_id", "by_staff", "said_at", "at")


@dataclass(frozen=True, slots=True)
class FromPhone:
    """What a phone says of a message, under the id it gave it."""

    id: str
    body: Row
    device_id: str
    said_at: str | None


def _rows(db: Database, where: str, args: Iterable[Any]) -> list[Row]:
    found = []
    for row in db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM message WHERE {where}", tuple(args)):
        message = dict(zip(COLUMNS, row, strict=True))
        found.append(message | {"choices": json.loads(message["choices"])})
    return found


def add(db: Database, values: Row, now: datetime) -> str:
    """Only inside a write transaction."""
    row = {"id": new_id(), **values, "choices": json.dumps(values.get("choices") or []), "created_at": now.isoformat()}
    db.conn.execute(f"INSERT INTO message ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))
    return str(row["id"])


def one(db: Database, message_id: str) -> Row | None:
    found = _rows(db, "id = ?", (message_id,))
    return found[0] if found else None


def of_people(db: Database, person_ids: Iterable[str], since: str = "", until: str | None = None) -> list[Row]:
    """Newest first, those written since an instant and, with `until`, before another. Reads only."""
    where = (
        "person_id IN (SELECT value FROM json_each(?1)) AND created_at >= ?2 AND (?3 IS NULL OR created_at < ?3)"
        " ORDER BY created_at DESC, id DESC"
    )
    return _rows(db, where, (json.dumps(list(person_ids)), since, until))


def event(
    db: Database,
    message_id: str,
    what: str,
    now: datetime,
    *,
    by_staff: str | None = None,
    phone: FromPhone | None = None,
) -> None:
    """Append to a message's life. Only inside a write transaction."""
    said = (phone.id, phone.body, phone.device_id, phone.said_at) if phone else (new_id(), {}, None, None)
    event_id, body, device_id, said_at = said
    kept = (event_id, message_id, what, json.dumps(body), device_id, by_staff, said_at, now.isoformat())
    db.conn.execute(f"INSERT INTO message_event ({', '.join(EVENT)}) VALUES ({', '.join('?' * len(EVENT))})", kept)


def _events(db: Database, where: str, args: Iterable[Any]) -> list[Row]:
    rows = db.conn.execute(f"SELECT {', '.join(EVENT)} FROM message_event WHERE {where} ORDER BY n", tuple(args))
    return [(one := dict(zip(EVENT, row, strict=True))) | {"body": json.loads(one["body"])} for row in rows]


def events_of(db: Database, message_ids: Iterable[str], until: str | None = None) -> dict[str, list[Row]]:
    """message id → what became of it, oldest first; with `until`, what had by that instant. Reads only."""
    ids = list(message_ids)
    found: dict[str, list[Row]] = {message_id: [] for message_id in ids}
    where = "message_id IN (SELECT value FROM json_each(?1)) AND (?2 IS NULL OR at < ?2)"
    for one in _events(db, where, (json.dumps(ids), until)):
        found[one["message_id"]].append(one)
    return found


def kept(db: Database, event_ids: Iterable[str]) -> dict[str, Row]:
    """Of these ids those that are kept already. Reads only."""
    found = _events(db, "id IN (SELECT value FROM json_each(?))", (json.dumps(list(event_ids)),))
    return {one["id"]: one for one in found}
