"""What could not be worked on and waits for its next try ↔ rows: by itself, so that it holds up nothing else.

`what` is the queue ("mail", "reminder", "limb"), `subject` the address, phone or limb. A queue keeps a row here while
something fails, and takes it away when it went well again.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

COLUMNS = ("what", "subject", "tries", "since", "tried_at", "again_at", "why")
LONGEST = timedelta(hours=2)  # between two tries; judgement


def pause_after(tries: int) -> timedelta:
    """How long to wait after so many failures: a minute, then each time twice as long."""
    return min(timedelta(minutes=2 ** min(tries - 1, 20)), LONGEST)


def fail(db: Database, what: str, subject: str, why: str, now: datetime) -> datetime:
    """One more failure; when to try again. Only inside a write transaction."""
    row = db.conn.execute("SELECT tries FROM set_aside WHERE what = ? AND subject = ?", (what, subject)).fetchone()
    tries = (row[0] if row else 0) + 1
    again = now + pause_after(tries)
    db.conn.execute(
        "INSERT INTO set_aside VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET tries = excluded.tries,"
        " tried_at = excluded.tried_at, again_at = excluded.again_at, why = excluded.why",
        (what, subject, tries, now.isoformat(), now.isoformat(), again.isoformat(), why),
    )
    return again


def well(db: Database, what: str, subjects: Iterable[str]) -> None:
    """These went well. Only inside a write transaction."""
    db.conn.executemany("DELETE FROM set_aside WHERE what = ? AND subject = ?", [(what, one) for one in subjects])


# A limb that was erased and a phone that was shut out, or wants no reminders any longer, fail at nothing.
STILL = (
    "(what = 'mail' OR what = 'limb' AND subject IN (SELECT id FROM limb) OR what = 'reminder' AND subject IN"
    " (SELECT device_id FROM push JOIN device ON device.id = device_id WHERE revoked_at IS NULL))"
)


def drop_orphans(db: Database) -> None:
    """Only inside a write transaction."""
    db.conn.execute(f"DELETE FROM set_aside WHERE NOT {STILL}")


def all_of(db: Database) -> list[dict[str, Any]]:
    """Everything that fails, longest first. Reads only."""
    rows = db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM set_aside WHERE {STILL} ORDER BY since, what, subject")
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]


def count(db: Database) -> int:
    """How much fails. Reads only."""
    return int(db.conn.execute(f"SELECT count(*) FROM set_aside WHERE {STILL}").fetchone()[0])
