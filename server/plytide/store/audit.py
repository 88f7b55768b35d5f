"""The audit chain: one line for every read and write of health data, each sealed with the one before it.

hash(n) = SHA-256(hash(n-1) ‖ line n). Changing, dropping or reordering any line breaks every hash after it.
"""

from __future__ import annotations

import hashlib
from datetime import datetime

from sqlite_utils import Database

START = b"\0" * 32


def seal(
    previous: bytes, n: int, at: str, who: str, what: str, subject: str, detail: str, feed_seq: int | None
) -> bytes:
    """The hash of a line, over its fields in order, each with its length in front."""
    sealed = hashlib.sha256(previous)
    for part in (str(n), at, who, what, subject, detail, "" if feed_seq is None else str(feed_seq)):
        data = part.encode()
        sealed.update(len(data).to_bytes(4, "big") + data)
    return sealed.digest()


def record(
    db: Database,
    now: datetime,
    who: str,
    what: str,
    subject: str,
    detail: str = "",
    feed_seq: int | None = None,
) -> None:
    """Append a line. Only inside a write transaction. No health data in `detail`."""
    row = db.conn.execute("SELECT n, hash FROM audit ORDER BY n DESC LIMIT 1").fetchone()
    n, previous = (row[0] + 1, row[1]) if row else (1, START)
    at = now.isoformat()
    db.conn.execute(
        "INSERT INTO audit VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            n,
            at,
            who,
            what,
            subject,
            detail,
            feed_seq,
            seal(previous, n, at, who, what, subject, detail, feed_seq),
        ),
    )


def mark(db: Database, seq: int) -> str:
    """A short fingerprint of everything written up to `seq`: tells a restored or forked file. Reads only."""
    row = db.conn.execute(
        "SELECT hash FROM audit WHERE feed_seq IS NOT NULL AND feed_seq <= ? ORDER BY feed_seq DESC LIMIT 1",
        (seq,),
    ).fetchone()
    return row[0].hex()[:12] if row else "0"


def first_broken_line(db: Database) -> int | None:
    """The number of the first line whose seal does not hold, or None. Reads only."""
    previous, expected = START, 1
    for n, at, who, what, subject, detail, feed_seq, sealed in db.conn.execute(
        "SELECT n, at, who, what, subject, detail, feed_seq, hash FROM audit ORDER BY n"
    ):
        if n != expected or seal(previous, n, at, who, what, subject, detail, feed_seq) != sealed:
            return int(expected)
        previous, expected = sealed, n + 1
    return None
