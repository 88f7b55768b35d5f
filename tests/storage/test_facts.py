"""A row changed, dropped or slipped in past the server is found, whichever table it is in; what the server writes is
not.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database

from plytide.settings import Settings
from plytide.storage import facts
from plytide.storage.files.backup import check, faults_of
from plytide.storage.sqlite import connect, write
from plytide.work import background
from tests.actors import Cast
from tests.storage.test_lost import file_of

UNPROVED = facts.OTHERWISE - {"checkin"} | facts.NO_FACTS


@contextmanager
def past_the_server(path: Path) -> Iterator[Database]:
    """Somebody with the file and no scruple: triggers off, constraints off, triggers put back."""
    db = connect(path)
    db.conn.execute("PRAGMA foreign_keys=OFF")
    db.conn.execute("PRAGMA ignore_check_constraints=ON")
    triggers = db.conn.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        db.conn.execute(f"DROP TRIGGER {name}")
    yield db
    for _, made in triggers:
        db.conn.execute(made)
    db.close()


def other(value: Any) -> Any:
    match value:
        case None:
            return 1
        case bytes():
            return value + b"x"
        case str():
            return value + " "
        case _:
            return value + 1000


def tables(db: Database) -> list[str]:
    names = [row[0] for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    return [name for name in names if name not in UNPROVED and not name.startswith(("sqlite_", "_"))]


@pytest.fixture(autouse=True)
def say_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(facts, "MOST_SAID", 10**6)


@pytest.fixture
def path(cast: Cast, settings: Settings, today: date) -> Path:
    """Ida's clinic, with a row in every table, written by the server's own way of writing."""
    cast.anouk.sync(cast.anouk.checkin(today, skin=[{"place": "end", "finding": "open_skin", "redness_minutes": None}]))
    cast.dov.sync(cast.dov.checkin(today), cast.dov.checkin(today))
    background.sweep(settings)
    found = file_of(settings, "ida")
    db = connect(found)
    db.conn.execute("PRAGMA foreign_keys=OFF")
    db.conn.execute("PRAGMA ignore_check_constraints=ON")
    with write(db):
        for table in tables(db):
            if db.conn.execute(f"SELECT 1 FROM {table}").fetchone():
                continue
            made = {"INTEGER": 1, "REAL": 1.5, "TEXT": "[]", "BLOB": b"1"}
            values = [made[row[2]] for row in db.conn.execute(f"PRAGMA table_info({table})")]
            db.conn.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(values))})", values)
    db.close()
    return found


def proof(path: Path) -> list[str]:
    db = connect(path)
    try:
        return facts.faults(db)
    finally:
        db.close()


def test_each_column_of_each_table_is_proved(path: Path) -> None:
    assert proof(path) == []
    with past_the_server(path) as db:
        looked_at = tables(db)
        assert len(looked_at) > 20
        for table in looked_at:
            columns = [row[1] for row in db.conn.execute(f"PRAGMA table_info({table})")]
            rowid, *before = db.conn.execute(f"SELECT {_id(db, table)}, * FROM {table} LIMIT 1").fetchone()
            for column, value in zip(columns, before, strict=True):
                if column in facts.VOLATILE.get(table, ()):
                    continue
                where = f"{_id(db, table)} = ?"
                after = other(value)
                try:
                    db.conn.execute(f"UPDATE {table} SET {column} = ? WHERE {where}", (after, rowid))
                except Exception:  # of another type: the table itself refuses
                    after = {"TEXT": "1", "INTEGER": 1, "REAL": 1.25, "BLOB": b"1"}[_type(db, table, column)]
                    db.conn.execute(f"UPDATE {table} SET {column} = ? WHERE {where}", (after, rowid))
                said = [one for one in facts.faults(db) if "not watched" not in one]
                assert said, (table, column)
                key = (after if _id(db, table) == column else rowid,)
                db.conn.execute(f"UPDATE {table} SET {column} = ? WHERE {where}", (value, *key))
                assert [one for one in facts.faults(db) if "not watched" not in one] == [], (table, column)
    assert proof(path) == []


def _id(db: Database, table: str) -> str:
    keys = [row[1] for row in db.conn.execute(f"PRAGMA table_info({table})") if row[5]]
    return str(keys[0]) if keys else "rowid"


def _type(db: Database, table: str, column: str) -> str:
    return next(str(row[2]) for row in db.conn.execute(f"PRAGMA table_info({table})") if row[1] == column)


def test_a_row_dropped_or_slipped_in_is_found(path: Path) -> None:
    for table in ("person", "checkin", "signal", "staff", "visit"):
        with past_the_server(path) as db:
            row = db.conn.execute(f"SELECT * FROM {table} LIMIT 1").fetchone()
            db.conn.execute(f"DELETE FROM {table} WHERE {_id(db, table)} = ?", (row[0],))
        assert proof(path), table
        with past_the_server(path) as db:
            db.conn.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)
            assert [one for one in facts.faults(db) if "not watched" not in one] == []
            new = [other(value) if row_n in (0, 1) else value for row_n, value in enumerate(row)]
            db.conn.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", new)
        assert proof(path), table
        with past_the_server(path) as db:
            db.conn.execute(f"DELETE FROM {table} WHERE {_id(db, table)} = ?", (new[0],))
        assert proof(path) == []


def test_a_row_written_past_the_server_with_its_triggers_on_is_found_and_never_taken_over(
    path: Path, cast: Cast, settings: Settings
) -> None:
    db = connect(path)
    db.conn.execute("UPDATE person SET name = 'Somebody else' WHERE id = ?", (cast.anouk.id,))
    db.close()
    assert cast.ida.patch(f"/api/clinic/people/{cast.dov.id}", {"name": "Dov B."}).status_code == 200
    background.sweep(settings)
    assert [one for one in proof(path) if "past the server" in one] == [
        f"person {cast.anouk.id} was written past the server"
    ]


def test_a_forged_proof_does_not_fit_what_the_audit_chain_says(path: Path, cast: Cast) -> None:
    """Somebody who also writes the chain of proofs anew, from the changed row on."""
    cast.ida.patch(f"/api/clinic/people/{cast.dov.id}", {"name": "Dov B."})
    cast.ida.get("/api/clinic/worklist")
    with past_the_server(path) as db:
        db.conn.execute("UPDATE person SET name = 'Somebody else' WHERE id = ?", (cast.anouk.id,))
        key = json.dumps([cast.anouk.id])
        row = next(one for found, one in facts._rows(db, "person", facts._shapes(db)["person"]) if found == key)
        changed = db.conn.execute(
            "SELECT n, salt FROM fact WHERE tbl = 'person' AND key = ? ORDER BY n DESC", (key,)
        ).fetchone()
        db.conn.execute("UPDATE fact SET digest = ? WHERE n = ?", (facts._digest([row], changed[1]), changed[0]))
        previous = facts.START
        for n, table, key, digest in db.conn.execute("SELECT n, tbl, key, digest FROM fact ORDER BY n").fetchall():
            previous = facts._link(previous, n, table, key, digest)
            db.conn.execute("UPDATE fact SET hash = ? WHERE n = ?", (previous, n))
    assert any("names a proof that is not there" in one for one in proof(path))


def test_a_safeguard_taken_away_is_found(path: Path) -> None:
    db = connect(path)
    db.conn.execute("DROP TRIGGER touched_person_update")
    db.close()
    assert proof(path) == ["person is not watched: touched_person_update is gone"]


def test_erasing_a_person_leaves_a_folder_that_is_whole_and_no_way_to_guess_at_them(
    path: Path, cast: Cast, settings: Settings
) -> None:
    # A row of nobody's made by this test would be in the way.
    db = connect(path)
    seqs = [row[0] for row in db.conn.execute("SELECT seq FROM checkin WHERE limb_id = ?", (cast.dov.limb_id,))]
    db.close()
    assert cast.ida.post(f"/api/clinic/people/{cast.dov.id}/erasure", {"reason": "asked"}).status_code in (
        200,
        201,
        202,
    )
    done = cast.nora.post(f"/api/clinic/people/{cast.dov.id}/erasure/confirm", {"name": "Dov"})
    assert done.status_code == 200, done.get_json()
    assert proof(path) == []
    db = connect(path)
    kept = db.conn.execute("SELECT count(*) FROM fact WHERE salt IS NOT NULL AND key = ?", (json.dumps([cast.dov.id]),))
    assert kept.fetchone()[0] == 0
    assert seqs
    db.close()


def test_the_day_to_day_leaves_a_folder_that_is_whole(cast: Cast, settings: Settings, today: date) -> None:
    cast.anouk.sync(cast.anouk.checkin(today))
    cast.ida.patch("/api/clinic/settings", {"phone": "+49 30 123456"})
    cast.ida.get("/api/clinic/worklist")
    background.sweep(settings)
    assert check(settings.data_dir) == []
    assert faults_of(file_of(settings, "ida")) == []
