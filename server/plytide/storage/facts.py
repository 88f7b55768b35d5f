"""What was kept is proved: every row as it was written ↔ a chain of digests, which the audit chain carries on.

Triggers in plain SQL note which rows a transaction touched; before it commits, the digest of each as it then stands is
appended (`seal`). Check-ins, which are many and never change, are proved by call instead of by row. Each audit line
names the end of this chain as it stood, so whoever changes a row past the server has to forge both chains and what the
registry saw of the one. A digest is salted, and the salt goes with its row: nobody can be guessed from what is left.

Not proved: what can be made again (assessments) and what only waits (mail, reminders).
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from sqlite_utils import Database

START = b"\0" * 32
BY_CALL = "checkin"  # proved by call: key "first-last" of its sequence numbers
OTHERWISE = frozenset({"audit", "audit_head", "erasing", "fact", "fact_shape", "touched", BY_CALL})
NO_FACTS = frozenset({"stale", "assessment", "assessment_whole", "urgency_count", "mail", "push", "set_aside"})
VOLATILE = {"clinic": {"seq"}, "device": {"seen_at", "skew_seconds"}}  # moved by every call, and said nowhere
FIRST_CALL = 1000  # check-ins to a digest, of those kept before there were any
MOST_SAID = 20

TABLES = (
    # One line for each version of a row; digest NULL: the row is gone. The salt goes with the row.
    """CREATE TABLE fact (
        n INTEGER PRIMARY KEY, tbl TEXT NOT NULL, key TEXT NOT NULL, digest BLOB, salt BLOB, hash BLOB NOT NULL) STRICT""",
    f"CREATE INDEX fact_row ON fact (tbl, key) WHERE tbl != '{BY_CALL}'",
    """CREATE TRIGGER fact_no_delete BEFORE DELETE ON fact
        BEGIN SELECT RAISE(ABORT, 'fact is append-only'); END""",
    """CREATE TRIGGER fact_no_update BEFORE UPDATE ON fact
        WHEN NEW.salt IS NOT NULL OR (OLD.n, OLD.tbl, OLD.key, OLD.digest, OLD.hash)
            IS NOT (NEW.n, NEW.tbl, NEW.key, NEW.digest, NEW.hash)
        BEGIN SELECT RAISE(ABORT, 'fact is append-only'); END""",
    # Rows of the transaction under way; what lies here after it was written past the server.
    "CREATE TABLE touched (n INTEGER PRIMARY KEY AUTOINCREMENT, tbl TEXT NOT NULL, key TEXT NOT NULL) STRICT",
    # Which columns a table's digests are over: an update of the server may add some.
    """CREATE TABLE fact_shape (tbl TEXT PRIMARY KEY, keys TEXT NOT NULL, columns TEXT NOT NULL) STRICT, WITHOUT ROWID""",
)


# While the server writes.


def floor(db: Database) -> int | None:
    """Where the notes of a transaction begin; None for a file that keeps none. At its begin."""
    known: bool | None = getattr(db, "_keeps_facts", None)
    if known is None:
        known = db.table("touched").exists()
        setattr(db, "_keeps_facts", known)  # noqa: B010 an attribute of ours on their object
    return int(db.conn.execute("SELECT coalesce(max(n), 0) FROM touched").fetchone()[0]) if known else None


def seal(db: Database, since: int | None) -> None:
    """Append what the transaction under way made of each row it touched. Before its commit."""
    if since is None:
        return
    rows = db.conn.execute("SELECT DISTINCT tbl, key FROM touched WHERE n > ? ORDER BY n", (since,)).fetchall()
    if not rows:
        return
    shapes = _shapes(db, {table for table, _ in rows})
    for table, key in rows:
        if table in shapes:
            _append_row(db, table, key, shapes[table])
    db.conn.execute("DELETE FROM touched WHERE n > ?", (since,))


def keep_call(db: Database, rows: Sequence[tuple[Any, ...]]) -> None:
    """Append the proof of check-ins just kept, whole rows in order. Only inside a write transaction."""
    _append(db, BY_CALL, f"{rows[0][0]}-{rows[-1][0]}", rows)


def head(db: Database) -> str:
    """Where the chain ends, as an audit line names it; empty before the first. Reads only."""
    row = db.conn.execute("SELECT n, hash FROM fact ORDER BY n DESC LIMIT 1").fetchone()
    return f"{row[0]}:{row[1].hex()}" if row else ""


@contextmanager
def erasing(db: Database, limb_ids: Iterable[str]) -> Iterator[None]:
    """Around the deletion of these limbs' check-ins: the calls they came in are proved anew without them.

    Not where they were not as written: that stays to be found. Only inside a write transaction.
    """
    listed = json.dumps(sorted(limb_ids))
    seqs = [
        row[0]
        for row in db.conn.execute(
            "SELECT seq FROM checkin WHERE limb_id IN (SELECT value FROM json_each(?)) ORDER BY seq", (listed,)
        )
    ]
    touched = []
    if seqs:
        for key, digest, salt in _calls(db):
            first, last = _span(key)
            if any(first <= seq <= last for seq in seqs):  # few calls, few of one person's
                touched.append((key, _holds(_checkins(db, first, last), digest, salt)))
    yield
    for key, held in touched:
        if held:
            _append(db, BY_CALL, key, list(_checkins(db, *_span(key))))
        db.conn.execute(
            "UPDATE fact SET salt = NULL WHERE tbl = ? AND key = ? AND n < (SELECT max(n) FROM fact WHERE tbl = ? AND key = ?)",
            (BY_CALL, key, BY_CALL, key),
        )


# When the server starts.


@contextmanager
def through_migrations(db: Database, pending: bool) -> Iterator[None]:
    """Around the change of a file's shape: what was proved before stays so, and what is new is proved from now on."""
    since = floor(db) if db.table("fact_shape").exists() else None
    before = (
        {table: _faulty(db, table, shape) for table, shape in _shapes(db).items()}
        if pending and since is not None
        else {}
    )
    yield
    if not pending or not db.table("fact_shape").exists():
        return
    setattr(db, "_keeps_facts", None)  # noqa: B010 the file may keep facts only now
    db.conn.execute("BEGIN IMMEDIATE")
    try:
        seal(db, since)
        known = _shapes(db)
        for table in _fact_tables(db):
            shape = _shape_now(db, table)
            _watch(db, table, shape)
            if known.get(table) == shape:
                continue
            db.conn.execute(
                "INSERT INTO fact_shape VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET keys = excluded.keys,"
                " columns = excluded.columns",
                (table, json.dumps(shape[0]), json.dumps(shape[1])),
            )
            bad = before.get(table, set())
            for key, row in list(_rows(db, table, shape)):
                if key not in bad:
                    _append(db, table, key, [row])
        if not db.conn.execute("SELECT 1 FROM fact WHERE tbl = ? LIMIT 1", (BY_CALL,)).fetchone():
            for call in _in_pieces(_checkins(db, 0, 2**62)):
                keep_call(db, call)
        db.conn.execute("COMMIT")
    except BaseException:
        db.rollback()
        raise


# When it is checked.


def faults(db: Database, *, chain_is_whole: bool = True) -> list[str]:
    """Which rows are not as they were written, in words; empty when all are. Reads only.

    What a broken audit chain says about proofs is not asked.
    """
    if not db.table("fact").exists():
        return []
    broken = _first_broken(db)
    if broken is not None:
        return [f"the chain of proofs breaks at line {broken}"]
    line = db.conn.execute(
        "SELECT n FROM audit WHERE facts != '' AND NOT EXISTS (SELECT 1 FROM fact WHERE fact.n ="
        " CAST(substr(facts, 1, instr(facts, ':') - 1) AS INTEGER) AND facts = fact.n || ':' || lower(hex(fact.hash)))"
        " ORDER BY n LIMIT 1"
    ).fetchone()
    line = line if chain_is_whole else None
    found = [f"audit line {line[0]} names a proof that is not there"] if line else []
    for table, key in db.conn.execute("SELECT DISTINCT tbl, key FROM touched ORDER BY n").fetchall():
        found.append(f"{table} {_plain(key)} was written past the server")
    for table, shape in _shapes(db).items():
        if not db.table(table).exists():
            found.append(f"the table {table} is gone")
            continue
        if missing := [name for name in _trigger_names(table) if not _has_trigger(db, name)]:
            found.append(f"{table} is not watched: {', '.join(missing)} is gone")
        found += [f"{table} {_plain(key)} is not as it was written" for key in sorted(_faulty(db, table, shape))]
    found += [f"check-ins {key} are not as they were written" for key in _faulty_calls(db)]
    return [*found[:MOST_SAID], f"and {len(found) - MOST_SAID} more"] if len(found) > MOST_SAID else found


def _faulty(db: Database, table: str, shape: Shape) -> set[str]:
    """The keys of rows that differ from their last proof, have none, or are gone."""
    proved = {
        key: (digest, salt)
        for key, digest, salt in db.conn.execute(
            "SELECT key, digest, salt FROM fact WHERE tbl = ? ORDER BY n", (table,)
        )
    }
    bad = set()
    for key, row in _rows(db, table, shape):
        digest, salt = proved.pop(key, (None, None))
        if not _holds([row], digest, salt):
            bad.add(key)
    return bad | {key for key, (digest, _) in proved.items() if digest is not None}


def _faulty_calls(db: Database) -> list[str]:
    bad, covered = [], 0
    for key, digest, salt in _calls(db):
        first, last = _span(key)
        rows = list(_checkins(db, first, last))
        covered += len(rows)
        if not _holds(rows, digest, salt):
            bad.append(key)
    there = db.conn.execute("SELECT count(*) FROM checkin").fetchone()[0]
    return [*bad, f"({there - covered} of them)"] if there != covered else bad


def _first_broken(db: Database) -> int | None:
    previous, expected = START, 1
    for n, table, key, digest, hashed in db.conn.execute("SELECT n, tbl, key, digest, hash FROM fact ORDER BY n"):
        if n != expected or _link(previous, n, table, key, digest) != hashed:
            return expected
        previous, expected = hashed, n + 1
    return None


# Digests.

Shape = tuple[list[str], list[str]]  # the columns of the key, and those the digest is over


def _link(previous: bytes, n: int, table: str, key: str, digest: bytes | None) -> bytes:
    return hashlib.sha256(previous + ascii((n, table, key, digest)).encode()).digest()


def _digest(rows: Iterable[tuple[Any, ...]], salt: bytes) -> bytes:
    """Over whole rows: Python's own `ascii` of numbers, text and bytes tells any two apart, in every version."""
    over = hashlib.sha256(salt)
    for row in rows:
        over.update(ascii(tuple(row)).encode() + b"\n")
    return over.digest()


def _holds(rows: Iterable[tuple[Any, ...]], digest: bytes | None, salt: bytes | None) -> bool:
    return digest is not None and salt is not None and _digest(rows, salt) == digest


def _append(db: Database, table: str, key: str, rows: Sequence[tuple[Any, ...]] | None) -> None:
    last = db.conn.execute("SELECT n, hash FROM fact ORDER BY n DESC LIMIT 1").fetchone()
    n, previous = (last[0] + 1, last[1]) if last else (1, START)
    salt = None if rows is None else os.urandom(16)
    digest = None if rows is None or salt is None else _digest(rows, salt)
    db.conn.execute(
        "INSERT INTO fact VALUES (?, ?, ?, ?, ?, ?)",
        (n, table, key, digest, salt, _link(previous, n, table, key, digest)),
    )


def _append_row(db: Database, table: str, key: str, shape: Shape) -> None:
    keys, columns = shape
    where = " AND ".join(f'"{name}" = ?' for name in keys)
    names = ", ".join(f'"{name}"' for name in columns)
    row = db.conn.execute(f'SELECT {names} FROM "{table}" WHERE {where}', json.loads(key)).fetchone()
    _append(db, table, key, [row] if row else None)
    if row is None:
        db.conn.execute("UPDATE fact SET salt = NULL WHERE tbl = ? AND key = ? AND salt IS NOT NULL", (table, key))


# The file's shape.


def _fact_tables(db: Database) -> list[str]:
    names = [row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
    return [name for name in names if name not in OTHERWISE | NO_FACTS and not name.startswith(("sqlite_", "_"))]


def _shape_now(db: Database, table: str) -> Shape:
    info = db.conn.execute(f'PRAGMA table_info("{table}")').fetchall()
    keys = [row[1] for row in sorted(info, key=lambda row: row[5]) if row[5]]
    return keys, sorted(row[1] for row in info if row[1] not in VOLATILE.get(table, ()))


def _shapes(db: Database, of: Collection[str] = ()) -> dict[str, Shape]:
    """`of` these tables, or of all."""
    if not of and not db.table("fact_shape").exists():
        return {}
    where = f"WHERE tbl IN ({', '.join('?' * len(of))})" if of else ""
    rows = db.conn.execute(f"SELECT tbl, keys, columns FROM fact_shape {where} ORDER BY tbl", sorted(of))
    return {row[0]: (json.loads(row[1]), json.loads(row[2])) for row in rows}


def _trigger_names(table: str) -> list[str]:
    return [f"touched_{table}_{deed}" for deed in ("insert", "update", "delete")]


def _has_trigger(db: Database, name: str) -> bool:
    found = db.conn.execute("SELECT 1 FROM sqlite_master WHERE type = 'trigger' AND name = ?", (name,)).fetchone()
    return found is not None


def _watch(db: Database, table: str, shape: Shape) -> None:
    """Triggers that note each row a transaction touches, by its key."""
    keys, columns = shape

    def note(row: str) -> str:
        key = ", ".join(f'{row}."{name}"' for name in keys)
        return f"INSERT INTO touched (tbl, key) VALUES ('{table}', json_array({key}));"

    was, now = (", ".join(f'{row}."{name}"' for name in columns) for row in ("OLD", "NEW"))
    changed = f"({was}) IS NOT ({now})" if len(columns) > 1 else f"{was} IS NOT {now}"
    for name, body in zip(
        _trigger_names(table),
        (
            f'AFTER INSERT ON "{table}" BEGIN {note("NEW")} END',
            f'AFTER UPDATE ON "{table}" WHEN {changed} BEGIN {note("OLD")} {note("NEW")} END',
            f'AFTER DELETE ON "{table}" BEGIN {note("OLD")} END',
        ),
        strict=True,
    ):
        db.conn.execute(f"DROP TRIGGER IF EXISTS {name}")
        db.conn.execute(f"CREATE TRIGGER {name} {body}")


def _rows(db: Database, table: str, shape: Shape) -> Iterator[tuple[str, tuple[Any, ...]]]:
    """(key, row) of every row, the row in the order of the shape's columns."""
    keys, columns = shape
    key = ", ".join(f'"{name}"' for name in keys)
    names = ", ".join(f'"{name}"' for name in columns)
    for row in db.conn.execute(f'SELECT json_array({key}), {names} FROM "{table}"'):
        yield row[0], tuple(row[1:])


def _plain(key: str) -> str:
    return " ".join(str(part) for part in json.loads(key))


# Check-ins, by call.


def _span(key: str) -> tuple[int, int]:
    first, _, last = key.partition("-")
    return int(first), int(last)


def _calls(db: Database) -> list[tuple[str, bytes | None, bytes | None]]:
    """The last proof of each call, (key, digest, salt)."""
    rows = db.conn.execute("SELECT key, digest, salt FROM fact WHERE tbl = ? ORDER BY n", (BY_CALL,))
    return [(key, *proof) for key, proof in {row[0]: (row[1], row[2]) for row in rows}.items()]


def _checkins(db: Database, first: int, last: int) -> Iterator[tuple[Any, ...]]:
    return iter(
        db.conn.execute(
            "SELECT seq, id, limb_id, body, written_by, received_from, received_at, doubt FROM checkin"
            " WHERE seq BETWEEN ? AND ? ORDER BY seq",
            (first, last),
        ).fetchall()
    )


def _in_pieces(rows: Iterator[tuple[Any, ...]]) -> Iterator[list[tuple[Any, ...]]]:
    piece: list[tuple[Any, ...]] = []
    for row in rows:
        piece.append(row)
        if len(piece) == FIRST_CALL:
            yield piece
            piece = []
    if piece:
        yield piece
