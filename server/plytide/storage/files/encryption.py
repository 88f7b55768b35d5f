"""A data folder's databases brought under a key, out of it, or under another one. The server stands still.

Each file is written anew beside itself by SQLCipher's own export, compared row for row, and only then put in
place. A file that is there already is left as it is: cut short, the same command is run again and finishes.
"""

from __future__ import annotations

import errno
from itertools import zip_longest
from pathlib import Path

from sqlite_utils import Database

from plytide.storage.files.lock import alone, put_in_place
from plytide.storage.sqlite import DatabaseError, connect_with, no_room, opens, set_journal, spoken

BESIDE = ".converting"


class ConversionFault(Exception):
    """store: databases that can't be brought under a key; the message says why and what to do."""


def databases(data_dir: Path) -> list[Path]:
    return [*sorted(data_dir.glob("clinics/*.db")), *sorted(data_dir.glob("*.db"))]


def convert(data_dir: Path, old: bytes | None, new: bytes | None) -> int:
    """Every database from one key to another (None: plain); how many were changed. Raises ConversionFault, InUse."""
    paths = databases(data_dir)
    if not paths:
        raise ConversionFault(f"{data_dir} holds no Plytide data. Check --data.")
    changed = 0
    with alone(data_dir):
        for path in paths:
            try:
                if opens(path, new):
                    continue
                if not opens(path, old):
                    raise ConversionFault(
                        f"{path.name} opens neither with the key it should have now nor with the new one. It is as it"
                        f" was; {changed} files were changed before it. Run the command again with the right key."
                    )
                _convert(path, old, new)
            except (DatabaseError, OSError) as error:
                if "locked" in str(error) and not no_room(path):
                    raise ConversionFault(f"{path.name} is in use by another program. End it first.") from error
                raise ConversionFault(
                    f"{path.name} could not be written anew ({in_words(error, path)}). It is as it was; "
                    f"{changed} files were changed before it. Make room, and run the command again."
                ) from error
            changed += 1
    return changed


def in_words(error: Exception, path: Path) -> str:
    """SQLite calls a full disk many names."""
    return "the disk is full" if "full" in str(error) or no_room(path) else str(error)


def _convert(path: Path, old: bytes | None, new: bytes | None) -> None:
    beside = path.with_name(path.name + BESIDE)
    beside.unlink(missing_ok=True)
    beside.touch(mode=0o600)
    db = connect_with(path, old)
    try:
        # Nothing beside the file that is replaced; and nobody else may have it open.
        if db.conn.execute("PRAGMA journal_mode=DELETE").fetchone()[0] != "delete":
            if no_room(path):
                raise OSError(errno.ENOSPC, "the disk is full")
            raise ConversionFault(f"{path.name} is in use by another program. End it first.")
        db.conn.execute("ATTACH DATABASE ? AS beside KEY ?", (str(beside), spoken(new)))
        db.conn.execute("SELECT sqlcipher_export('beside')").fetchall()
        db.conn.execute("DETACH DATABASE beside")
        copy = connect_with(beside, new)
        try:
            fault = difference(db, copy)
            if fault:
                raise ConversionFault(f"{path.name}: the new file is not the old one ({fault}). Nothing was replaced.")
        finally:
            copy.close()
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    finally:
        db.close()
    put_in_place(beside, path)
    db = connect_with(path, new)
    try:
        set_journal(db)
    finally:
        db.close()


SCHEMA = "SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY type, name"


def difference(one: Database, other: Database) -> str | None:
    """What tells two databases apart, down to each row in its place; None when nothing does. Reads only."""
    found = [row[0] for row in other.conn.execute("PRAGMA integrity_check")]
    if found != ["ok"]:
        return f"integrity: {found[0]}"
    if one.conn.execute(SCHEMA).fetchall() != other.conn.execute(SCHEMA).fetchall():
        return "its tables are others"
    for name in [row[0] for row in one.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]:
        rows = f'SELECT * FROM "{name}"'
        for number, (mine, its) in enumerate(zip_longest(one.conn.execute(rows), other.conn.execute(rows)), 1):
            if mine != its:
                return f"table {name}, row {number}"
    return None
