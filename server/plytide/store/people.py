"""People, limbs, sockets and what the clinic enters about them ↔ rows."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.store.clinics import take_seqs
from plytide.store.corrections import counts
from plytide.store.ids import new_id

Row = dict[str, Any]

PERSON = ("id", "name", "born_on", "tags", "clinician_id", "own_log")
LIMB = ("id", "person_id", "side", "level", "amputated_on", "shape", "reference_circumference_mm")
SOCKET = (
    "id", "limb_id", "fitted_on", "retired_on", "purpose", "made", "material", "suspension", "liner_mm",
    "weight_limit_kg", "stack_at_fitting", "note", "wear_schedule", "trim_lines",
)  # fmt: skip
PAD = ("id", "socket_id", "fitted_on", "thickness_mm", "place")
MEASUREMENT = (
    "id",
    "limb_id",
    "measured_on",
    "levels",
    "minutes_since_doffing",
    "weight_kg",
    "measured_by",
    "height_cm",
)
INTERVENTION = ("id", "limb_id", "done_on", "kind", "note", "by_staff", "created_at")
SUSPENSION = ("id", "socket_id", "changed_on", "suspension", "by_staff", "created_at")
NOTE = ("id", "limb_id", "text", "by_staff", "created_at")
VISIT = ("id", "person_id", "visit_on", "visit_time", "what", "cancelled")
JSON_COLUMNS = frozenset({"tags", "stack_at_fitting", "levels", "wear_schedule"})
FED = frozenset({"person", "limb", "socket"})  # what phones are told of


def _packed(column: str, value: Any) -> Any:
    return json.dumps(value) if column in JSON_COLUMNS and value is not None else value


def _unpacked(columns: Sequence[str], row: Sequence[Any]) -> Row:
    return {
        column: json.loads(value) if column in JSON_COLUMNS and value is not None else value
        for column, value in zip(columns, row, strict=True)
    }


def _select(db: Database, table: str, columns: Sequence[str], where: str, args: Sequence[Any] = ()) -> list[Row]:
    sql = f"SELECT {', '.join(columns)} FROM {table} WHERE {where}"
    return [_unpacked(columns, row) for row in db.conn.execute(sql, args)]


def add(db: Database, table: str, values: Row, now: datetime) -> str:
    """Insert one row of `table` from its named values; its new id. Only inside a write transaction."""
    row = {"id": new_id(), **values, "created_at": now.isoformat()}
    if table in FED:
        row["seq"] = take_seqs(db, 1)
    db.conn.execute(
        f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})",
        [_packed(column, value) for column, value in row.items()],
    )
    return str(row["id"])


def change(db: Database, table: str, row_id: str, values: Row) -> None:
    """Change the named columns of one row. Only inside a write transaction."""
    if not values:
        return
    row = dict(values)
    if table in FED:
        row["seq"] = take_seqs(db, 1)
    db.conn.execute(
        f"UPDATE {table} SET {', '.join(f'{column} = ?' for column in row)} WHERE id = ?",
        [*(_packed(column, value) for column, value in row.items()), row_id],
    )


def person(db: Database, person_id: str) -> Row | None:
    rows = _select(db, "person", PERSON, "id = ?", (person_id,))
    return rows[0] if rows else None


def people(db: Database, *, search: str = "", after: str = "", limit: int = 50) -> list[Row]:
    """People by name, a page at a time: `after` is the "name\\x1fid" of the last one seen. Reads only."""
    like = "%" + search.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_") + "%"
    name, _, last_id = after.partition("\x1f")
    return _select(
        db,
        "person",
        PERSON,
        "name LIKE ? ESCAPE '\\' AND (name, id) > (?, ?) ORDER BY name, id LIMIT ?",
        (like, name, last_id, limit),
    )


def limb(db: Database, limb_id: str) -> Row | None:
    rows = _select(db, "limb", LIMB, "id = ?", (limb_id,))
    return rows[0] if rows else None


def limbs_of(db: Database, person_id: str) -> list[Row]:
    return _select(db, "limb", LIMB, "person_id = ? ORDER BY created_at, id", (person_id,))


def socket(db: Database, socket_id: str) -> Row | None:
    rows = _select(db, "socket", SOCKET, "id = ?", (socket_id,))
    return rows[0] if rows else None


def sockets_of(db: Database, limb_id: str) -> list[Row]:
    return _select(db, "socket", SOCKET, "limb_id = ? ORDER BY fitted_on, id", (limb_id,))


def suspensions_of(db: Database, limb_id: str) -> list[Row]:
    """Suspensions switched on the same socket, oldest first. Reads only."""
    return _select(
        db,
        "suspension",
        SUSPENSION,
        "socket_id IN (SELECT id FROM socket WHERE limb_id = ?) ORDER BY changed_on, created_at",
        (limb_id,),
    )


def pads_of(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """Those that count, by date; with `until`, those that counted at that instant. Reads only."""
    return _select(
        db,
        "pad",
        PAD,
        f"socket_id IN (SELECT id FROM socket WHERE limb_id = ?2) AND {counts('pad')} ORDER BY fitted_on, id",
        (until, limb_id),
    )


def measurements_of(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """As `pads_of`."""
    where = f"limb_id = ?2 AND {counts('measurement')} ORDER BY measured_on, id"
    return _select(db, "measurement", MEASUREMENT, where, (until, limb_id))


def interventions_of(db: Database, limb_id: str, until: str | None = None) -> list[Row]:
    """As `pads_of`."""
    where = f"limb_id = ?2 AND {counts('intervention')} ORDER BY done_on, id"
    return _select(db, "intervention", INTERVENTION, where, (until, limb_id))


def record(db: Database, kind: str, record_id: str) -> Row | None:
    """One pad, measurement or intervention, whether or not it counts. Reads only."""
    columns = {"pad": PAD, "measurement": MEASUREMENT, "intervention": INTERVENTION}[kind]
    rows = _select(db, kind, columns, "id = ?", (record_id,))
    return rows[0] if rows else None


def notes_of(db: Database, limb_id: str) -> list[Row]:
    return _select(db, "note", NOTE, "limb_id = ? ORDER BY created_at", (limb_id,))


def visits_of(db: Database, person_id: str) -> list[Row]:
    return _select(db, "visit", VISIT, "person_id = ? ORDER BY visit_on", (person_id,))


def visits_of_family(db: Database, person_id: str, today: str) -> list[Row]:
    """Coming visits of all people who share a caregiver's phone with this one, by date. Reads only."""
    columns = [f"visit.{column}" for column in VISIT]
    rows = db.conn.execute(
        f"SELECT {', '.join(columns)}, person.name FROM visit JOIN person ON person.id = visit.person_id"
        " WHERE visit_on >= ? AND NOT cancelled AND visit.person_id IN"
        " (SELECT other.person_id FROM device_person AS mine JOIN device_person AS other USING (device_id)"
        "  JOIN device ON device.id = device_id WHERE mine.person_id = ? AND device.role = 'caregiver'"
        "  AND revoked_at IS NULL UNION SELECT ?)"
        " ORDER BY visit_on",
        (today, person_id, person_id),
    )
    return [{**_unpacked(VISIT, row[:-1]), "name": row[-1]} for row in rows]


def visit(db: Database, visit_id: str) -> Row | None:
    rows = _select(db, "visit", VISIT, "id = ?", (visit_id,))
    return rows[0] if rows else None


def next_visits(db: Database, person_ids: Iterable[str], today: str) -> dict[str, Row]:
    """The next visit of each person who has one. Reads only."""
    ids = list(person_ids)
    rows = _select(
        db,
        "visit",
        VISIT,
        f"person_id IN ({', '.join('?' * len(ids))}) AND visit_on >= ? AND NOT cancelled ORDER BY visit_on DESC",
        (*ids, today),
    )
    return {row["person_id"]: row for row in rows}


def changed_since(db: Database, person_ids: Sequence[str], seq: int) -> list[tuple[int, str, Row]]:
    """(seq, type, row) of people, limbs and sockets changed after `seq`. Reads only."""
    marks = ", ".join("?" * len(person_ids))
    found: list[tuple[int, str, Row]] = []
    for table, columns, where in (
        ("person", PERSON, f"id IN ({marks})"),
        ("limb", LIMB, f"person_id IN ({marks})"),
        ("socket", SOCKET, f"limb_id IN (SELECT id FROM limb WHERE person_id IN ({marks}))"),
    ):
        for row in _select(db, table, (*columns, "seq"), f"{where} AND seq > ?", (*person_ids, seq)):
            found.append((row.pop("seq"), table, row))
    return sorted(found, key=lambda change: change[0])


def mark_all_stale(db: Database, now: datetime) -> None:
    """Every limb waits for a new assessment, as after a change of thresholds. Only inside a write transaction."""
    db.conn.execute(
        "INSERT INTO stale SELECT id, ? FROM limb WHERE true ON CONFLICT DO UPDATE SET since = excluded.since",
        (now.isoformat(),),
    )
