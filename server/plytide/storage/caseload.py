"""Files of people a clinic brings, in parts, and what their rows made ↔ rows."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.making import MISTAKEN
from plytide.storage.rows import Row, select

COLUMNS = ("id", "name", "kind", "size", "sha256", "choices", "rows", "done_to", "faults", "by_staff", "created_at",
           "brought_at", "undone_at")  # fmt: skip
JSON = frozenset({"choices", "faults"})
KEPT_DAYS = 1  # a file nobody went on with: judgement


def begin(db: Database, name: str, kind: str, size: int, staff_id: str, now: datetime) -> str:
    """A file about to come; files left lying are dropped. Only inside a write transaction."""
    old = (now - timedelta(days=KEPT_DAYS)).isoformat()
    db.conn.execute(
        "DELETE FROM caseload_part WHERE caseload_id IN (SELECT id FROM caseload WHERE created_at < ?)", (old,)
    )
    caseload_id = new_id()
    db.conn.execute(
        "INSERT INTO caseload (id, name, kind, size, by_staff, created_at) VALUES (?, ?, ?, ?, ?, ?)",
        (caseload_id, name, kind, size, staff_id, now.isoformat()),
    )
    return caseload_id


def one(db: Database, caseload_id: str) -> Row | None:
    """Reads only."""
    rows = _rows(db, "id = ?", caseload_id)
    return rows[0] if rows else None


def recent(db: Database) -> list[Row]:
    """Newest first. Reads only."""
    return _rows(db, "brought_at IS NOT NULL OR done_to > 0 ORDER BY created_at DESC, id DESC LIMIT 50")


def same_file(db: Database, row: Row) -> Row | None:
    """The same bytes, brought before and not undone. Reads only."""
    where = "sha256 = ? AND id <> ? AND brought_at IS NOT NULL AND undone_at IS NULL ORDER BY created_at DESC LIMIT 1"
    found = _rows(db, where, row["sha256"], row["id"])
    return found[0] if found else None


def _rows(db: Database, where: str, *values: Any) -> list[Row]:
    found = db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM caseload WHERE {where}", values)
    return [
        {name: json.loads(value) if name in JSON else value for name, value in zip(COLUMNS, row, strict=True)}
        for row in found
    ]


def change(db: Database, caseload_id: str, **values: Any) -> None:
    """Only inside a write transaction."""
    packed = [json.dumps(value) if name in JSON else value for name, value in values.items()]
    db.conn.execute(f"UPDATE caseload SET {', '.join(f'{name} = ?' for name in values)} WHERE id = ?",
                    [*packed, caseload_id])  # fmt: skip


def add_part(db: Database, caseload_id: str, n: int, body: bytes) -> None:
    """The same part again takes its own place. Only inside a write transaction."""
    db.conn.execute("INSERT OR REPLACE INTO caseload_part VALUES (?, ?, ?)", (caseload_id, n, body))


def body(db: Database, caseload_id: str) -> bytes:
    """The file as far as it came. Reads only."""
    parts = db.conn.execute("SELECT body FROM caseload_part WHERE caseload_id = ? ORDER BY n", (caseload_id,))
    return b"".join(part[0] for part in parts)


def drop_parts(db: Database, caseload_id: str) -> None:
    db.conn.execute("DELETE FROM caseload_part WHERE caseload_id = ?", (caseload_id,))


def drop_all_parts(db: Database) -> None:
    """Files not brought yet can hold anybody: an erasure drops them. Only inside a write transaction."""
    db.conn.execute("DELETE FROM caseload_part")


def made(
    db: Database, caseload_id: str, row_n: int, kind: str, record_id: str, person_id: str, source: str | None
) -> None:
    """Only inside a write transaction, after the record was added."""
    seq = None
    if kind != "measurement":
        seq = db.conn.execute(f"SELECT seq FROM {kind} WHERE id = ?", (record_id,)).fetchone()[0]
    db.conn.execute(
        "INSERT INTO caseload_made (caseload_id, row_n, kind, record_id, person_id, seq, source)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (caseload_id, row_n, kind, record_id, person_id, seq, source),
    )


def made_counts(db: Database, caseload_id: str) -> dict[str, int]:
    """What stands of it today, by kind. Reads only."""
    return dict(
        db.conn.execute("SELECT kind, count(*) FROM caseload_made WHERE caseload_id = ? GROUP BY kind", (caseload_id,))
    )


def people_made(db: Database, caseload_id: str, after: int, limit: int) -> list[tuple[int, str, str]]:
    """(number, id, name) of the people it made, in its own order. Reads only."""
    return list(
        db.conn.execute(
            "SELECT n, person.id, name FROM caseload_made JOIN person ON person.id = record_id"
            " WHERE caseload_id = ? AND kind = 'person' AND n > ? ORDER BY n LIMIT ?",
            (caseload_id, after, limit),
        )
    )


def touched_people(db: Database, caseload_id: str, after: str, limit: int) -> list[tuple[str, str]]:
    """(id, name) of everybody it made something for, by id. Reads only."""
    return list(
        db.conn.execute(
            "SELECT DISTINCT person.id, name FROM caseload_made JOIN person ON person.id = person_id"
            " WHERE caseload_id = ? AND person.id > ? ORDER BY person.id LIMIT ?",
            (caseload_id, after, limit),
        )
    )


def made_for(db: Database, caseload_id: str, person_id: str) -> list[tuple[str, str, int | None]]:
    """(kind, id, seq) of what it made for a person, newest first. Reads only."""
    return list(
        db.conn.execute(
            "SELECT kind, record_id, seq FROM caseload_made WHERE caseload_id = ? AND person_id = ? ORDER BY n DESC",
            (caseload_id, person_id),
        )
    )


def take_out(db: Database, caseload_id: str, person_id: str, kind: str, record_id: str) -> None:
    """One record that nothing hangs on, of somebody who stays. Only inside a write transaction."""
    db.conn.execute("INSERT OR IGNORE INTO erasing VALUES (?)", (person_id,))
    if kind == "limb":
        db.conn.execute(
            "DELETE FROM signal_event WHERE signal_id IN (SELECT id FROM signal WHERE limb_id = ?)", (record_id,)
        )
        for table in ("stale", "assessment", "assessment_whole", "said", "signal"):
            db.conn.execute(f"DELETE FROM {table} WHERE limb_id = ?", (record_id,))
    if kind == "socket":
        db.conn.execute("DELETE FROM socket_despite WHERE socket_id = ?", (record_id,))
    db.conn.execute(f"DELETE FROM {kind} WHERE id = ?", (record_id,))
    db.conn.execute("DELETE FROM erasing")
    db.conn.execute("DELETE FROM caseload_made WHERE caseload_id = ? AND record_id = ?", (caseload_id, record_id))


def people_known(db: Database) -> list[Row]:
    """Everybody, for finding doubles. Reads only."""
    return select(db, "person", ("id", "name", "born_on", "record_number"), "true")


def limbs_known(db: Database) -> list[tuple[str, str, str, str, str | None]]:
    """(id, person, side, level, amputated on). Reads only."""
    return list(db.conn.execute("SELECT id, person_id, side, level, amputated_on FROM limb"))


def sockets_known(db: Database) -> list[tuple[str, str, str]]:
    """(id, limb, fitted on), without those that were a mistake. Reads only."""
    return list(db.conn.execute(f"SELECT id, limb_id, fitted_on FROM socket WHERE id NOT IN ({MISTAKEN})"))


def measurements_known(db: Database) -> list[tuple[str, str, list[Row]]]:
    """(limb, day, levels). Reads only."""
    rows = db.conn.execute("SELECT limb_id, measured_on, levels FROM measurement")
    return [(row[0], row[1], json.loads(row[2])) for row in rows]


def sources(db: Database) -> dict[str, str]:
    """What a person was called in a file they came in → who they are here. Reads only."""
    return dict(
        db.conn.execute("SELECT source, record_id FROM caseload_made WHERE kind = 'person' AND source IS NOT NULL")
    )


def remembered(db: Database) -> dict[str, Any]:
    """heading → how the clinic read it last. Reads only."""
    return {row[0]: json.loads(row[1]) for row in db.conn.execute("SELECT heading, match FROM caseload_column")}


def remember(db: Database, columns: dict[str, Any]) -> None:
    """Only inside a write transaction."""
    db.conn.executemany(
        "INSERT OR REPLACE INTO caseload_column VALUES (?, ?)",
        [(heading, json.dumps(match)) for heading, match in columns.items()],
    )
