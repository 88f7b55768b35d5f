"""Opening a SQLite file the safe way, and the one way to write to it.

Durable before receipted: WAL with synchronous=FULL puts every commit on the disk before `commit` returns
(sqlite.org/pragma.html#pragma_synchronous). WAL is used only with a SQLite that does not have the WAL-reset bug
(sqlite.org/wal.html#walresetbug: fixed in 3.51.3, 3.50.7 and 3.44.6); otherwise the rollback journal, which is
slower and as safe.
"""

from __future__ import annotations

import fcntl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from sqlite_utils import Database, Migrations
from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # pysqlite3 where it is installed

BUSY_MS = 10_000

IntegrityError = sqlite3.IntegrityError
OperationalError = sqlite3.OperationalError
DatabaseError = sqlite3.DatabaseError


def wal_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this SQLite is free of the WAL-reset bug."""
    if version >= (3, 51, 3):
        return True
    return version[:2] == (3, 50) and version >= (3, 50, 7) or version[:2] == (3, 44) and version >= (3, 44, 6)


def connect(path: Path, *, create: bool = False) -> Database:
    """One connection to one file, with every safeguard set. The caller closes it.

    Raises FileNotFoundError rather than making an empty database by mistake.
    """
    if not create and not path.exists():
        raise FileNotFoundError(path)
    conn = sqlite3.connect(str(path), timeout=BUSY_MS / 1000, isolation_level=None, cached_statements=256)
    # Not the recursive_triggers default nor plugins: nothing here needs them, and each costs a start.
    db = Database(conn, recursive_triggers=False, execute_plugins=False)
    conn.execute("PRAGMA foreign_keys=ON")
    conn.execute("PRAGMA synchronous=FULL")
    conn.execute("PRAGMA trusted_schema=OFF")
    conn.execute("PRAGMA temp_store=MEMORY")
    return db


def prepare(path: Path, migrations: Migrations) -> None:
    """Bring a file to the newest shape, once, however many workers start together."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # sqlite-utils' migrations race when several processes start together
        db = connect(path, create=True)
        try:
            mode = "WAL" if wal_is_safe(sqlite3.sqlite_version_info) else "DELETE"
            db.conn.execute(f"PRAGMA journal_mode={mode}")
            if migrations.pending(db):
                migrations.apply(db)
        finally:
            db.close()


@contextmanager
def write(db: Database) -> Iterator[Database]:
    """A write transaction: BEGIN IMMEDIATE, committed whole or not at all.

    sqlite-utils' own `atomic()` begins deferred; a read before the first write then fails under several
    workers (SQLITE_BUSY_SNAPSHOT), whatever the busy timeout.
    """
    db.conn.execute("BEGIN IMMEDIATE")
    try:
        yield db
    except BaseException:
        db.rollback()
        raise
    try:
        db.conn.execute("COMMIT")
    except BaseException:
        db.rollback()
        raise


@contextmanager
def read(db: Database) -> Iterator[Database]:
    """One view of the file for several reads: what others commit meanwhile stays out of it."""
    db.conn.execute("BEGIN")
    try:
        yield db
    finally:
        db.rollback()


# Opening a file costs more than most requests: its schema is read, and closing the last connection writes the
# whole log back. So a thread keeps its connections from one request to the next.
MOST_KEPT = 8  # files a thread keeps open; a test makes many, a server has a registry and a few clinics


class _Kept(threading.local):
    def __init__(self) -> None:
        self.idle: dict[Path, tuple[tuple[int, int], Database]] = {}


_kept = _Kept()


class Borrowed(NamedTuple):
    """A connection of this thread, and which file it was opened on."""

    db: Database
    path: Path
    file: tuple[int, int]


def borrow(path: Path) -> Borrowed:
    """This thread's own connection to a file; a new one when another file has been put in its place.

    An open connection holds on to its file, so the number of that file can't be given to another. Give it back.
    """
    status = path.stat()
    file = (status.st_dev, status.st_ino)
    known, db = _kept.idle.pop(path, (None, None))
    if db is not None and known != file:
        db.close()
        db = None
    return Borrowed(db or connect(path), path, file)


def give_back(borrowed: Borrowed, *, sound: bool = True) -> None:
    """Keep a connection for this thread's next request; close it when it is in doubt."""
    db, path, file = borrowed
    if not sound or db.conn.in_transaction or path in _kept.idle:
        db.close()
        return
    _kept.idle[path] = (file, db)
    while len(_kept.idle) > MOST_KEPT:
        _kept.idle.pop(next(iter(_kept.idle)))[1].close()
