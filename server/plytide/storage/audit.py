"""The audit chain: one line for every read and write of health data, each sealed with the one before it.

hash(n) = SHA-256(hash(n-1) ‖ line n). Which browser asked is part of the line where it is told. Changing, dropping or
reordering any line breaks every hash after it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from contextvars import ContextVar
from datetime import datetime
from typing import Any, NamedTuple

from sqlite_utils import Database

from plytide.storage import facts

START = b"\0" * 32
asking_from: ContextVar[str] = ContextVar("asking_from", default="")  # "Firefox on Windows"; "" outside a request


class Line(NamedTuple):
    """What a line says, in the order in which it is sealed."""

    n: int
    at: str
    who: str
    what: str
    subject: str
    detail: str
    feed_seq: int | None
    device: str = ""
    facts: str = ""


def seal(previous: bytes, line: Line) -> bytes:
    """The hash of a line, over its fields in order, each with its length in front; device and proof where they are
    told.
    """
    sealed = hashlib.sha256(previous)
    n, *said, feed_seq, device, facts = line
    parts = (str(n), *said, "" if feed_seq is None else str(feed_seq))
    for part in (*parts, device, facts) if facts else (*parts, device) if device else parts:
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
    line = Line(n, now.isoformat(), who, what, subject, detail, feed_seq, asking_from.get(), facts.head(db))
    db.conn.execute(
        "INSERT INTO audit VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (*line[:7], seal(previous, line), line.device, line.facts),
    )


def mark(db: Database, seq: int) -> str:
    """A short fingerprint of everything written up to `seq`: tells a restored or forked file. Reads only."""
    row = db.conn.execute(
        "SELECT hash FROM audit WHERE feed_seq IS NOT NULL AND feed_seq <= ? ORDER BY feed_seq DESC LIMIT 1",
        (seq,),
    ).fetchone()
    return row[0].hex()[:12] if row else "0"


def head(db: Database) -> tuple[int, bytes]:
    """(number, hash) of the last line; (0, zeros) before the first. Reads only."""
    row = db.conn.execute("SELECT n, hash FROM audit ORDER BY n DESC LIMIT 1").fetchone()
    return (row[0], row[1]) if row else (0, START)


def first_broken_line(db: Database) -> int | None:
    """The number of the first line whose seal does not hold, or None. Reads only."""
    previous, expected = START, 1
    # A file from before the proofs, such as an old backup, is checked as it is.
    proved = "facts" if "facts" in {row[1] for row in db.conn.execute("PRAGMA table_info(audit)")} else "''"
    for sealed, *told in db.conn.execute(
        f"SELECT hash, n, at, who, what, subject, detail, feed_seq, device, {proved} FROM audit ORDER BY n"
    ):
        line = Line(*told)
        if line.n != expected or seal(previous, line) != sealed:
            return int(expected)
        previous, expected = sealed, line.n + 1
    return None


def faults(db: Database, witnesses: Iterable[tuple[int, bytes, str]] = ()) -> list[str]:
    """What is wrong with the chain, in words. `witnesses` are (number, hash, when) seen by another file. Reads only.

    A line changed, dropped or moved breaks its seal; lines cut off at the end differ from the head kept beside
    them; a chain forged whole, head and all, differs from what the other file has seen.
    """
    broken = first_broken_line(db)
    if broken is not None:
        return [f"the audit chain breaks at line {broken}"]
    n, sealed = head(db)
    kept = db.conn.execute("SELECT n, hash FROM audit_head").fetchone() if db.table("audit_head").exists() else None
    if (n, sealed) != (tuple(kept) if kept else (0, START)):
        last = kept[0] if kept else 0
        return [f"the audit chain ends at line {n}, and its head says line {last}"]
    for seen, hashed, at in witnesses:
        row = db.conn.execute("SELECT hash FROM audit WHERE n = ?", (seen,)).fetchone()
        if row is None:
            return [f"the audit chain ends at line {n}, and the registry saw line {seen} at {at}"]
        if row[0] != hashed:
            return [f"audit line {seen} is not the one the registry saw at {at}"]
    return []


COLUMNS = ("n", "at", "who", "what", "subject", "detail", "device")


def page(
    db: Database, *, before: int | None = None, limit: int = 50, who: str | None = None, subject: str | None = None
) -> list[dict[str, Any]]:
    """Lines, newest first; `who` is such as "staff:ID", `subject` an id that the line's subject holds. Reads only."""
    rows = db.conn.execute(
        f"SELECT {', '.join(COLUMNS)} FROM audit WHERE (? IS NULL OR n < ?) AND (? IS NULL OR who = ?)"
        " AND (? IS NULL OR instr(subject, ?) > 0) ORDER BY n DESC LIMIT ?",
        (before, before, who, who, subject, subject, limit),
    )
    return [dict(zip(COLUMNS, row, strict=True)) for row in rows]
