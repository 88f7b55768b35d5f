"""Opening, migrating and writing a SQLite file. The version gate follows sqlite.org/wal.html#walresetbug."""

from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytest
from sqlite_utils.utils import sqlite3

from plytide.storage.clinic_migrations import clinic_migrations
from plytide.storage.sqlite import IntegrityError, connect, prepare, wal_is_safe, write

SPAWN = multiprocessing.get_context("spawn")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "clinic.db"
    prepare(made, clinic_migrations)
    return made


@pytest.mark.parametrize(
    ("version", "safe"),
    [
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 0), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 53, 4), True),
    ],
)
def test_wal_is_used_only_with_a_sqlite_that_has_no_wal_reset_bug(version: tuple[int, ...], safe: bool) -> None:
    assert wal_is_safe(version) is safe


def test_every_connection_has_the_safeguards(path: Path) -> None:
    db = connect(path)
    said = {name: db.conn.execute(f"PRAGMA {name}").fetchone()[0] for name in ("foreign_keys", "synchronous")}
    mode = db.conn.execute("PRAGMA journal_mode").fetchone()[0]
    timeout = db.conn.execute("PRAGMA busy_timeout").fetchone()[0]
    db.close()
    assert said == {"foreign_keys": 1, "synchronous": 2}
    assert mode == ("wal" if wal_is_safe(sqlite3.sqlite_version_info) else "delete")
    assert timeout >= 5000


def test_a_missing_file_is_not_made_by_mistake(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        connect(tmp_path / "nowhere.db")


def test_every_table_is_strict(path: Path) -> None:
    db = connect(path)
    loose = [
        row[0]
        for row in db.conn.execute("SELECT name FROM pragma_table_list WHERE schema = 'main' AND NOT strict")
        if not row[0].startswith(("sqlite_", "_sqlite"))
    ]
    db.close()
    assert loose == []


def prepare_one(path: str) -> str:
    prepare(Path(path), clinic_migrations)
    return "ready"


def test_workers_that_start_together_migrate_once(tmp_path: Path) -> None:
    path = str(tmp_path / "new.db")
    with ProcessPoolExecutor(4, mp_context=SPAWN) as workers:
        assert list(workers.map(prepare_one, [path] * 4)) == ["ready"] * 4
    db = connect(Path(path))
    applied = [row[0] for row in db.conn.execute("SELECT name FROM _sqlite_migrations")]
    db.close()
    assert sorted(applied) == sorted(set(applied))


def count_up(path: str) -> None:
    db = connect(Path(path))
    for _ in range(100):
        with write(db):
            seen = db.conn.execute("SELECT seq FROM clinic").fetchone()[0]
            db.conn.execute("UPDATE clinic SET seq = ?", (seen + 1,))
    db.close()


def test_read_then_write_under_four_processes_loses_nothing(path: Path) -> None:
    """A deferred BEGIN fails this at once with SQLITE_BUSY_SNAPSHOT (measured: 776 of 1,200)."""
    db = connect(path)
    db.conn.execute("INSERT INTO clinic (id, name, epoch) VALUES ('c', 'Marram Yard', 'e')")
    with ProcessPoolExecutor(4, mp_context=SPAWN) as workers:
        list(workers.map(count_up, [str(path)] * 4))
    assert db.conn.execute("SELECT seq FROM clinic").fetchone()[0] == 400
    db.close()


def test_a_write_that_fails_half_way_leaves_nothing(path: Path) -> None:
    db = connect(path)
    with pytest.raises(ZeroDivisionError), write(db):
        db.conn.execute("INSERT INTO clinic (id, name, epoch) VALUES ('c', 'Marram Yard', 'e')")
        raise ZeroDivisionError
    left = db.conn.execute("SELECT count(*) FROM clinic").fetchone()[0]
    db.close()
    assert left == 0


@pytest.mark.parametrize("change", ["UPDATE audit SET who = 'x'", "DELETE FROM audit"])
def test_an_audit_line_can_not_be_changed(path: Path, change: str) -> None:
    db = connect(path)
    db.conn.execute("INSERT INTO audit VALUES (1, 'now', 'me', 'read', 'limb', '', NULL, x'00', '', '')")
    with pytest.raises(IntegrityError, match="append-only"):
        db.conn.execute(change)
    db.close()
