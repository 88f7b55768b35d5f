"""The newest assessment of each limb ↔ rows, and which limbs wait for a new one.

Derived: it can always be made again from what is kept. What the clinic was told is in `signal_event`, append-only.
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
    assessed_at: str  # the instant by which the log was read
    why_sentences: str | None = None  # of which codes and values `why` is made


COLUMNS = ", ".join(Kept._fields)


def mark_stale(db: Database, limb_ids: Iterable[str], now: datetime) -> None:
    """These limbs wait for a new assessment. Only inside a write transaction."""
    db.conn.executemany(
        "INSERT INTO stale VALUES (?, ?) ON CONFLICT DO UPDATE SET since = excluded.since",
        [(limb_id, now.isoformat()) for limb_id in sorted(limb_ids)],
    )


def waiting(db: Database, now: datetime, limit: int, *, days_too: bool) -> list[tuple[str, str | None]]:
    """(limb id, stale since) of limbs to assess: those with news first, then those last assessed before today.

    Not those that failed, until their pause is over or something newer is said of them. Reads only.
    """
    today, moment = now.date().isoformat(), now.isoformat()
    found = list(
        db.conn.execute(
            "SELECT limb_id, stale.since FROM stale WHERE NOT EXISTS (SELECT 1 FROM set_aside WHERE what = 'limb'"
            " AND subject = limb_id AND again_at > ? AND tried_at >= stale.since) ORDER BY stale.since LIMIT ?",
            (moment, limit),
        )
    )
    if days_too and len(found) < limit:
        found += [
            (row[0], None)
            for row in db.conn.execute(
                "SELECT limb_id FROM assessment WHERE assessed_on < ? AND NOT EXISTS (SELECT 1 FROM set_aside"
                " WHERE what = 'limb' AND subject = limb_id AND again_at > ?) ORDER BY assessed_on LIMIT ?",
                (today, moment, limit - len(found)),
            )
        ]
    return found


def count_waiting(db: Database, now: datetime, by: datetime | None = None) -> int:
    """How many limbs have news that is not read yet, without those set aside; with `by`, of those whose news had come
    by then. Reads only.
    """
    row = db.conn.execute(
        "SELECT count(*) FROM stale WHERE (?2 IS NULL OR since <= ?2) AND NOT EXISTS (SELECT 1 FROM set_aside"
        " WHERE what = 'limb' AND subject = limb_id AND again_at > ?1 AND tried_at >= stale.since)",
        (now.isoformat(), by.isoformat() if by else None),
    ).fetchone()
    return int(row[0])


def stale_since(db: Database, limb_id: str) -> str | None:
    """When the last news of a limb came that is not read yet. Reads only."""
    row = db.conn.execute("SELECT since FROM stale WHERE limb_id = ?", (limb_id,)).fetchone()
    return row[0] if row else None


def save(db: Database, kept: Kept, read_since: str | None) -> None:
    """Only inside a write transaction. News that came while the engine ran keeps the limb waiting."""
    # Not INSERT OR REPLACE: that deletes without a trigger, and the counts would drift.
    changed = ", ".join(f"{column} = excluded.{column}" for column in kept._fields[1:])
    db.conn.execute(
        f"INSERT INTO assessment ({COLUMNS}) VALUES ({', '.join('?' * len(kept))}) ON CONFLICT DO UPDATE SET {changed}",
        kept,
    )
    db.conn.execute("DELETE FROM stale WHERE limb_id = ? AND since = ?", (kept.limb_id, read_since))


def save_whole(db: Database, limb_id: str, assessed_on: str, engine: str, body: str) -> None:
    """Beside `save`: everything that was said, for the limb's own pages. Only inside a write transaction."""
    db.conn.execute(
        "INSERT INTO assessment_whole VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE"
        " SET assessed_on = excluded.assessed_on, engine = excluded.engine, body = excluded.body",
        (limb_id, assessed_on, engine, body),
    )


def whole(db: Database, limb_id: str, today: str, engine: str) -> str | None:
    """What `save_whole` kept, if it is of today, by this engine, and no news came since. Reads only."""
    row = db.conn.execute(
        "SELECT body FROM assessment_whole WHERE limb_id = ?1 AND assessed_on = ?2 AND engine = ?3"
        " AND NOT EXISTS (SELECT 1 FROM stale WHERE stale.limb_id = ?1)",
        (limb_id, today, engine),
    ).fetchone()
    return row[0] if row else None


def set_rank(db: Database, limb_id: str, urgency: int, since: str, why: str, why_sentences: str | None) -> None:
    """Only inside a write transaction."""
    db.conn.execute(
        "UPDATE assessment SET urgency = ?, sort_since = ?, why = ?, why_sentences = ? WHERE limb_id = ?",
        (urgency, since, why, why_sentences, limb_id),
    )


def of_limb(db: Database, limb_id: str) -> dict[str, Any] | None:
    """The newest assessment as kept, or None. Reads only."""
    row = db.conn.execute("SELECT body FROM assessment WHERE limb_id = ?", (limb_id,)).fetchone()
    return json.loads(row[0]) if row else None


def mark_all_stale(db: Database, now: datetime) -> None:
    """Every limb waits for a new assessment, as after a change of thresholds. Only inside a write transaction."""
    db.conn.execute(
        "INSERT INTO stale SELECT id, ? FROM limb WHERE true ON CONFLICT DO UPDATE SET since = excluded.since",
        (now.isoformat(),),
    )
