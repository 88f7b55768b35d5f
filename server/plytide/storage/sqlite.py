"""Opening a SQLite file the safe way, and the one way to write to it.

Durable before receipted: WAL with synchronous=FULL puts every commit on the disk before `commit` returns
(sqlite.org/pragma.html#pragma_synchronous). WAL is used only with a SQLite that does not have the WAL-reset bug
(sqlite.org/wal.html#walresetbug: fixed in 3.51.3, 3.50.7 and 3.44.6); otherwise the rollback journal, which is
slower and as safe.

Encrypted at rest when PLYTIDE_DATABASE_KEY_FILE is set: then SQLCipher is the driver of the whole process, so that
its errors are the ones caught. SQLCipher encrypts every page, of the log too, with AES-256 and an HMAC-SHA512.
"""

from __future__ import annotations

import fcntl
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

from sqlite_utils import Database, Migrations
from sqlite_utils import utils as sqlite_utils_utils

from plytide.settings import database_key_file
from plytide.storage import facts, turns
from plytide.storage.files.keys import KeyFault, is_private, read_key

BUSY_MS = 10_000
KEY_FILE = database_key_file()
CIPHER = "sqlcipher3"
BESIDE_A_FILE = 100_000  # bytes that a reader of a log needs beside the file, and some


def _driver() -> Any:
    """SQLCipher where a key is named, else what sqlite-utils took: pysqlite3 where it is installed."""
    if KEY_FILE is not None and find_spec(CIPHER):
        return import_module(f"{CIPHER}.dbapi2")
    return sqlite_utils_utils.sqlite3  # type: ignore[attr-defined]


sqlite3 = _driver()
IntegrityError = sqlite3.IntegrityError
OperationalError = sqlite3.OperationalError
DatabaseError = sqlite3.DatabaseError


def wal_is_safe(version: tuple[int, ...]) -> bool:
    """Whether this SQLite is free of the WAL-reset bug."""
    if version >= (3, 51, 3):
        return True
    return version[:2] == (3, 50) and version >= (3, 50, 7) or version[:2] == (3, 44) and version >= (3, 44, 6)


class Unreadable(DatabaseError):  # type: ignore[misc, valid-type]
    """store: a file that does not open: no key, another key, or damage; the message says what to do."""


class NoRoom(OperationalError):  # type: ignore[misc, valid-type]
    """store: a file that does not open since its disk is full: nothing is said about the file itself."""


@cache
def database_key() -> bytes | None:
    """The key of this process's databases, read once; None: they are plain. Raises KeyFault."""
    if KEY_FILE is None:
        return None
    if sqlite3.__name__.partition(".")[0] != CIPHER:
        raise KeyFault(
            f"PLYTIDE_DATABASE_KEY_FILE is set, but {CIPHER} is not installed: "
            "pip install -e '.[sealed]' in Plytide's folder."
        )
    key = read_key(KEY_FILE)
    if not is_private(KEY_FILE):
        raise KeyFault(f"{KEY_FILE} can be read by others than its owner: chmod 600 {KEY_FILE}.")
    return key


def spoken(key: bytes | None) -> str:
    """A key as SQLCipher takes it: raw, so that nothing is derived from it; empty for a plain file."""
    return f"x'{key.hex()}'" if key else ""


def connect(path: Path, *, create: bool = False) -> Database:
    """One connection to one file, with every safeguard set. The caller closes it.

    Raises FileNotFoundError rather than making an empty database by mistake, Unreadable for a file that is not
    SQLite to this process, and KeyFault when there is no key to try.
    """
    if not create and not path.exists():
        raise FileNotFoundError(path)
    key = database_key()
    try:
        return connect_with(path, key)
    except DatabaseError as error:
        if "not a database" not in str(error):
            if no_room(path):
                raise NoRoom(
                    f"The disk with {path.name} is full: no file on it can be opened. Make room first."
                ) from error
            raise
        raise Unreadable(_why_not(path, key)) from None


def connect_with(path: Path, key: bytes | None) -> Database:
    """One connection under a key that may be another than this process's. Raises DatabaseError."""
    conn = sqlite3.connect(str(path), timeout=BUSY_MS / 1000, isolation_level=None, cached_statements=256)
    # Not the recursive_triggers default nor plugins: nothing here needs them, and each costs a start.
    db = Database(conn, recursive_triggers=False, execute_plugins=False)
    setattr(db, "_file", path)  # noqa: B010 whose turn it is goes by the file
    try:
        if key:
            conn.execute("PRAGMA cipher_log_level=NONE")  # else a wrong key writes lines of its own to the log
            conn.execute(f'PRAGMA key = "{spoken(key)}"')
        conn.execute("PRAGMA foreign_keys=ON")
        conn.execute("PRAGMA synchronous=FULL")
        conn.execute("PRAGMA trusted_schema=OFF")
        conn.execute("PRAGMA temp_store=MEMORY")
        conn.execute("PRAGMA schema_version").fetchone()  # the first look at the file: is it one, does the key fit
    except BaseException:
        db.close()
        raise
    return db


def no_room(path: Path) -> bool:
    """Whether the disk of a file has no room for what a reader writes beside it."""
    return shutil.disk_usage(path.parent).free < BESIDE_A_FILE


def opens(path: Path, key: bytes | None) -> bool:
    """Whether a file can be read with a key, or without one. Raises DatabaseError where that is not the matter."""
    try:
        connect_with(path, key).close()
    except DatabaseError as error:
        if "not a database" in str(error):
            return False
        raise
    return True


def _why_not(path: Path, key: bytes | None) -> str:
    if key is None:
        return (
            f"{path.name} is not a plain database. If it is encrypted, name its key in PLYTIDE_DATABASE_KEY_FILE;"
            " otherwise it is damaged."
        )
    if opens(path, None):
        return (
            f"{path.name} is not encrypted, and PLYTIDE_DATABASE_KEY_FILE is set. Encrypt the data folder with"
            " plytide encrypt, or unset the variable."
        )
    return f"{path.name} does not open with the key in {KEY_FILE}: it has another key, or is damaged."


def set_journal(db: Database) -> None:
    """A log beside the file where this SQLite keeps one safely."""
    mode = "WAL" if wal_is_safe(sqlite3.sqlite_version_info) else "DELETE"
    db.conn.execute(f"PRAGMA journal_mode={mode}")


def prepare(path: Path, migrations: Migrations) -> None:
    """Bring a file to the newest shape, once, however many workers start together."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # sqlite-utils' migrations race when several processes start together
        db = connect(path, create=True)
        try:
            set_journal(db)
            pending = bool(migrations.pending(db))
            with facts.through_migrations(db, pending):
                if pending:
                    migrations.apply(db)
        finally:
            db.close()


@contextmanager
def write(db: Database) -> Iterator[Database]:
    """A write transaction: BEGIN IMMEDIATE, committed whole or not at all, with the proof of each row it wrote.

    sqlite-utils' own `atomic()` begins deferred; a read before the first write then fails under several
    workers (SQLITE_BUSY_SNAPSHOT), whatever the busy timeout.
    """
    with turns.turn(getattr(db, "_file"), BUSY_MS / 1000):  # noqa: B009 an attribute of ours on their object
        db.conn.execute("BEGIN IMMEDIATE")
        try:
            since = facts.floor(db)
            yield db
            facts.seal(db, since)
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


def borrow(path: Path, look: Callable[[Database], None] | None = None) -> Borrowed:
    """This thread's own connection to a file; a new one, at which `look` looks first, when another file has been put
    in its place.

    An open connection holds on to its file, so the number of that file can't be given to another. Give it back.
    """
    status = path.stat()
    file = (status.st_dev, status.st_ino)
    known, db = _kept.idle.pop(path, (None, None))
    if db is not None and known != file:
        db.close()
        db = None
    if db is None:
        db = connect(path)
        try:
            if look:
                look(db)
        except BaseException:
            db.close()
            raise
    return Borrowed(db, path, file)


def give_back(borrowed: Borrowed, *, sound: bool = True) -> None:
    """Keep a connection for this thread's next request; close it when it is in doubt."""
    db, path, file = borrowed
    if not sound or db.conn.in_transaction or path in _kept.idle:
        db.close()
        return
    _kept.idle[path] = (file, db)
    while len(_kept.idle) > MOST_KEPT:
        _kept.idle.pop(next(iter(_kept.idle)))[1].close()
