"""What the registry has seen of each clinic's audit chain, so that a chain cut short or forged whole is found.

Two files would have to be forged alike. Whoever can do that is found only by a copy elsewhere: a backup, a replica.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from plytide.storage import audit
from plytide.storage.clinics import Unavailable, open_clinic
from plytide.storage.registry.registry import Registry
from plytide.storage.sqlite import DatabaseError, write

EVERY_LINE_SEEN = timedelta(days=7)  # after that, the last of each day is enough


def seen(registry: Registry, clinic_id: str) -> list[tuple[int, bytes, str]]:
    """(line number, hash, when) as seen, oldest first. Reads only."""
    rows = registry.db.conn.execute("SELECT n, hash, at FROM witness WHERE clinic_id = ? ORDER BY n", (clinic_id,))
    return [(row[0], row[1], row[2]) for row in rows]


def look(registry: Registry, clinic_id: str, head: tuple[int, bytes], now: datetime) -> None:
    """Note the end of a clinic's chain, unless it is noted."""
    n, hashed = head
    known = registry.db.conn.execute("SELECT 1 FROM witness WHERE clinic_id = ? AND n = ?", (clinic_id, n)).fetchone()
    if n == 0 or known:
        return
    old = (now - EVERY_LINE_SEEN).isoformat()
    with write(registry.db) as db:
        db.conn.execute("INSERT OR IGNORE INTO witness VALUES (?, ?, ?, ?)", (clinic_id, n, hashed, now.isoformat()))
        db.conn.execute(
            "DELETE FROM witness WHERE clinic_id = ? AND at < ? AND n NOT IN"
            " (SELECT max(n) FROM witness WHERE clinic_id = ? GROUP BY substr(at, 1, 10))",
            (clinic_id, old, clinic_id),
        )


def look_at_all(data_dir: Path, now: datetime) -> None:
    """Note the end of every clinic's chain."""
    registry = Registry(data_dir)
    try:
        for clinic_id, _ in registry.clinic_files():
            try:
                db = open_clinic(data_dir, registry, clinic_id)
            except (Unavailable, DatabaseError):  # told elsewhere; the others' chains are looked at all the same
                continue
            try:
                look(registry, clinic_id, audit.head(db), now)
            finally:
                db.close()
    finally:
        registry.close()


def forget_beyond(registry: Registry, clinic_id: str, n: int) -> None:
    """After a restore: what was seen of lines that are not in the copy put back.

    Each clinic begins a new epoch then.
    """
    with write(registry.db) as db:
        db.conn.execute("DELETE FROM witness WHERE clinic_id = ? AND n > ?", (clinic_id, n))
