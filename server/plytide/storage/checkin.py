"""Check-ins ↔ rows. Append-only; the id made on the phone keeps each one once, however often it is sent."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlite_utils import Database

from plytide.storage import facts
from plytide.storage.clinics import take_seqs


class CheckInRow(NamedTuple):
    seq: int
    id: str
    limb_id: str
    body: str
    written_by: str | None
    received_from: str
    received_at: str
    doubt: str | None


COLUMNS = ", ".join(CheckInRow._fields)
New = tuple[str, str, str, str | None, str | None]  # id, limb_id, body, written_by, doubt


def already(db: Database, ids: Sequence[str]) -> dict[str, tuple[str, str]]:
    """(limb id, body) of those of `ids` that are kept. Reads only."""
    if not ids:
        return {}
    marks = ", ".join("?" * len(ids))
    rows = db.conn.execute(f"SELECT id, limb_id, body FROM checkin WHERE id IN ({marks})", ids)
    return {row[0]: (row[1], row[2]) for row in rows}


def lines(db: Database, ids: Sequence[str], most: int) -> list[CheckInRow]:
    """Of check-ins and what they replace, and what that replaces, the next first: at most so many. Reads only."""
    found = db.conn.execute(
        "WITH RECURSIVE line (id) AS (SELECT value FROM json_each(?) UNION"
        " SELECT json_extract(body, '$.replaces') FROM line JOIN checkin USING (id) LIMIT ?)"
        f" SELECT {COLUMNS} FROM line JOIN checkin USING (id)",
        (json.dumps(ids), len(ids) + most),
    )
    return [CheckInRow(*row) for row in found]


def keep(
    db: Database,
    new: Sequence[New],
    device_id: str,
    now: datetime,
) -> int:
    """Append check-ins; the last sequence number given.

    Only inside a write transaction, and only ids that `already` does not know.
    """
    first = take_seqs(db, len(new))
    at = now.isoformat()
    rows = [
        (first + i, id_, limb_id, body, written_by, device_id, at, doubt)
        for i, (id_, limb_id, body, written_by, doubt) in enumerate(new)
    ]
    db.conn.executemany("INSERT INTO checkin VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
    facts.keep_call(db, rows)
    return first + len(new) - 1


def of_limb(db: Database, limb_id: str, until: str | None = None, newest: int | None = None) -> list[CheckInRow]:
    """All check-ins of a limb in order of arrival; `until` drops those received later, `newest` leaves so many of the
    last. Reads only.
    """
    last: list[Any] = db.conn.execute(
        f"SELECT {COLUMNS} FROM checkin WHERE limb_id = ? AND (? IS NULL OR received_at <= ?) ORDER BY seq DESC LIMIT ?",
        (limb_id, until, until, -1 if newest is None else newest),
    ).fetchall()
    return [CheckInRow(*row) for row in reversed(last)]


def since(
    db: Database,
    limb_ids: Sequence[str],
    seq: int,
    limit: int,
    own_only: Mapping[str, str] | None = None,
    withheld: frozenset[str] = frozenset(),
) -> list[CheckInRow]:
    """The next `limit` check-ins of these limbs after `seq`, in order of arrival. Reads only.

    `own_only` names limbs of which only what one writer wrote is given, `withheld` check-ins that are not.
    """
    hidden = json.dumps(sorted(withheld)) if withheld else None
    found: list[CheckInRow] = []
    for limb_id in limb_ids:
        writer = (own_only or {}).get(limb_id)
        rows = db.conn.execute(
            f"SELECT {COLUMNS} FROM checkin WHERE limb_id = ? AND seq > ? AND (? IS NULL OR written_by = ?)"
            " AND (? IS NULL OR id NOT IN (SELECT value FROM json_each(?)))"
            " ORDER BY seq LIMIT ?",
            (limb_id, seq, writer, writer, hidden, hidden, limit),
        )
        found.extend(CheckInRow(*row) for row in rows)
    found.sort()
    return found[:limit]


def well_logged(db: Database, least: int, most: int) -> list[str]:
    """Ids of at most `most` limbs with at least so many entries, those logged last first. Reads only."""
    query = "SELECT limb_id FROM checkin GROUP BY limb_id HAVING count(*) >= ? ORDER BY max(seq) DESC LIMIT ?"
    return [row[0] for row in db.conn.execute(query, (least, most))]
