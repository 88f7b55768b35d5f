"""The newest assessment of each limb ↔ rows, and which limbs wait for a new one.

Derived: it can always be made again from the facts. What the clinic was told is in `signal_event`, append-only.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple

from sqlite_utils import Database


class Kept(NamedTuple):
    """What the worklist shows of a limb, made when it was assessed."""

    limb_id: str
    assessed_on: str
    state: str
    state_since: str | None
    urgency: int
    sort_since: str
    why: str
    spark: str
    last_checkin: str | None
    body: str


COLUMNS = ", ".join(Kept._fields)


def mark_stale(db: Database, limb_ids: Iterable[str], now: datetime) -> None:
    """These limbs wait for a new assessment. Only inside a write transaction."""
    db.conn.executemany(
        "INSERT INTO stale VALUES (?, ?) ON CONFLICT DO UPDATE SET since = excluded.since",
        [(limb_id, now.isoformat()) for limb_id in sorted(limb_ids)],
    )


def waiting(db: Database, today: str, limit: int, *, days_too: bool) -> list[tuple[str, str | None]]:
    """(limb id, stale since) of limbs to assess: those with news first, then those last assessed before today.

    Reads only.
    """
    found = list(db.conn.execute("SELECT limb_id, since FROM stale ORDER BY since LIMIT ?", (limit,)))
    if days_too and len(found) < limit:
        found += [
            (row[0], None)
            for row in db.conn.execute(
                "SELECT limb_id FROM assessment WHERE assessed_on < ? ORDER BY assessed_on LIMIT ?",
                (today, limit - len(found)),
            )
        ]
    return found


def save(db: Database, kept: Kept, stale_since: str | None) -> None:
    """Only inside a write transaction. News that came while the engine ran keeps the limb waiting."""
    # Not INSERT OR REPLACE: that deletes without a trigger, and the counts would drift.
    changed = ", ".join(f"{column} = excluded.{column}" for column in kept._fields[1:])
    db.conn.execute(
        f"INSERT INTO assessment ({COLUMNS}) VALUES ({', '.join('?' * len(kept))}) ON CONFLICT DO UPDATE SET {changed}",
        kept,
    )
    db.conn.execute("DELETE FROM stale WHERE limb_id = ? AND since = ?", (kept.limb_id, stale_since))


def set_rank(db: Database, limb_id: str, urgency: int, since: str, why: str) -> None:
    """Only inside a write transaction."""
    db.conn.execute(
        "UPDATE assessment SET urgency = ?, sort_since = ?, why = ? WHERE limb_id = ?", (urgency, since, why, limb_id)
    )


def of_limb(db: Database, limb_id: str) -> dict[str, Any] | None:
    """The newest assessment as kept, or None. Reads only."""
    row = db.conn.execute("SELECT body FROM assessment WHERE limb_id = ?", (limb_id,)).fetchone()
    return json.loads(row[0]) if row else None
