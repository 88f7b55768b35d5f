"""Every row that belongs to a person: for an export, and for an erasure that misses none.

The rows are found by following the references of the schema itself, so that a table added later is found too.
Not among them: the audit chain, which holds ids and no health data.
"""

from __future__ import annotations

import json
from graphlib import TopologicalSorter
from typing import Any

from sqlite_utils import Database

from plytide.storage import facts, set_aside
from plytide.storage.sqlite import write

NEVER = frozenset({"erasing", "audit", "audit_head", "fact", "fact_shape", "touched"})
NAMED = {"person_id": "person", "limb_id": "limb", "socket_id": "socket", "signal_id": "signal", "device_id": "device"}

Ids = frozenset[str]


def _references(db: Database) -> dict[str, list[tuple[str, str]]]:
    """table → [(its column, the table it points to)], by foreign key or by the column's name."""
    tables = [
        row[0]
        for row in db.conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        if row[0] not in NEVER and not row[0].startswith(("sqlite_", "_"))
    ]
    found: dict[str, list[tuple[str, str]]] = {}
    for table in tables:
        keys = {row[3]: row[2] for row in db.conn.execute(f"PRAGMA foreign_key_list({table})")}
        for column in (row[1] for row in db.conn.execute(f"PRAGMA table_info({table})")):
            if column in NAMED:
                keys.setdefault(column, NAMED[column])
        found[table] = sorted(keys.items())
    return found


def _parents_first(references: dict[str, list[tuple[str, str]]]) -> list[str]:
    return list(TopologicalSorter({table: {to for _, to in keys} for table, keys in references.items()}).static_order())


def _where(keys: list[tuple[str, str]], ids: dict[str, Ids], root: Ids | None) -> tuple[str, list[str]]:
    """The condition for a table's rows that point to, or are, rows already found."""
    parts, values = [], []
    if root:
        parts.append("id IN (SELECT value FROM json_each(?))")
        values.append(json.dumps(sorted(root)))
    for column, to in keys:
        if ids.get(to):
            parts.append(f"{column} IN (SELECT value FROM json_each(?))")
            values.append(json.dumps(sorted(ids[to])))
    return " OR ".join(parts), values


def _own_phones(db: Database, person_id: str) -> Ids:
    """Phones that serve this person and nobody else."""
    rows = db.conn.execute(
        "SELECT device_id FROM device_person GROUP BY device_id HAVING count(*) = 1 AND max(person_id) = ?",
        (person_id,),
    )
    return frozenset(row[0] for row in rows)


def _conditions(db: Database, person_id: str) -> dict[str, tuple[str, list[str]]]:
    """table → the condition for the person's rows in it, parents first."""
    references = _references(db)
    roots = {"person": frozenset({person_id}), "device": _own_phones(db, person_id)}
    ids: dict[str, Ids] = {}
    found: dict[str, tuple[str, list[str]]] = {}
    for table in _parents_first(references):
        where, values = _where(references[table], ids, roots.get(table))
        if table == "enrolment":
            where, values = "EXISTS (SELECT 1 FROM json_each(enrolment.people) WHERE value = ?)", [person_id]
        if not where:
            continue
        found[table] = (where, values)
        columns = [row[1] for row in db.conn.execute(f"PRAGMA table_info({table})")]
        if "id" in columns:
            ids[table] = frozenset(row[0] for row in db.conn.execute(f"SELECT id FROM {table} WHERE {where}", values))
    return found


def rows_of(db: Database, person_id: str) -> dict[str, list[dict[str, Any]]]:
    """table → its rows of this person, tables without any left out. Reads only."""
    found = {}
    for table, (where, values) in _conditions(db, person_id).items():
        columns = [row[1] for row in db.conn.execute(f"PRAGMA table_info({table})")]
        rows = [
            dict(zip(columns, row, strict=True))
            for row in db.conn.execute(f"SELECT * FROM {table} WHERE {where}", values)
        ]
        if rows:
            found[table] = rows
    return found


def erase(db: Database, person_id: str) -> dict[str, Any]:
    """Delete every row of a person: how many of each table, and the phones and enrolments that went with them.

    Only inside a write transaction; `wipe` afterwards, so that the bytes are gone too.
    """
    db.conn.execute("INSERT OR IGNORE INTO erasing VALUES (?)", (person_id,))
    conditions = _conditions(db, person_id)
    gone: dict[str, Any] = {"rows": {}, "device_ids": [], "enrolment_ids": []}
    for table in ("device", "enrolment"):
        if table in conditions:
            where, values = conditions[table]
            gone[f"{table}_ids"] = [row[0] for row in db.conn.execute(f"SELECT id FROM {table} WHERE {where}", values)]
    limb_ids = [row[0] for row in db.conn.execute("SELECT id FROM limb WHERE person_id = ?", (person_id,))]
    with facts.erasing(db, limb_ids):
        for table in reversed(conditions):
            where, values = conditions[table]
            count = db.conn.execute(f"DELETE FROM {table} WHERE {where}", values).rowcount
            if count:
                gone["rows"][table] = count
    set_aside.drop_orphans(db)
    db.conn.execute("DELETE FROM erasing")
    return gone


def wipe(db: Database) -> None:
    """Write the file anew without what was deleted, and empty the log beside it. Not inside a transaction."""
    db.conn.execute("VACUUM")
    db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()


def ask(db: Database, person_id: str, reason: str | None, staff_id: str, at: str) -> None:
    """Somebody asks for a person to be erased. Only inside a write transaction."""
    db.conn.execute("INSERT OR REPLACE INTO erasure VALUES (?, ?, ?, ?)", (person_id, reason, staff_id, at))


def asked(db: Database, person_id: str) -> dict[str, str] | None:
    """Who asked for it, when and why; None when nobody did. Reads only."""
    row = db.conn.execute("SELECT reason, asked_by, asked_at FROM erasure WHERE person_id = ?", (person_id,)).fetchone()
    return dict(zip(("reason", "asked_by", "asked_at"), row, strict=True)) if row else None


def take_back(db: Database, person_id: str) -> None:
    with write(db):
        db.conn.execute("DELETE FROM erasure WHERE person_id = ?", (person_id,))
