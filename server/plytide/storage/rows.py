"""Rows of what the clinic enters, as named values: read, added, changed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.clinics import take_seqs
from plytide.storage.ids import new_id

Row = dict[str, Any]

JSON_COLUMNS = frozenset({"tags", "stack_at_fitting", "levels", "wear_schedule", "telephones"})
FED = frozenset({"person", "limb", "socket"})  # what phones are told of
# What rules and readings take from a row, and where it is kept as it was until it changed: a replay knows no more than
# was known then.
BEFORE = {
    "person": ("profile_before", ("tags", "born_on")),
    "limb": (
        "limb_before",
        ("side", "level", "amputated_on", "shape", "reference_circumference_mm", "deep_scar"),
    ),
    "socket": (
        "socket_before",
        ("fitted_on", "retired_on", "retired_why", "purpose", "made", "material", "suspension", "liner_mm",
         "weight_limit_kg", "stack_at_fitting", "baseline_unsure"),
    ),
}  # fmt: skip


def _packed(column: str, value: Any) -> Any:
    # A stack that was not entered is JSON's null: an empty list says that no sock was worn.
    whole = column in JSON_COLUMNS and (value is not None or column == "stack_at_fitting")
    return json.dumps(value) if whole else value


def _unpacked(columns: Sequence[str], row: Sequence[Any]) -> Row:
    return {
        column: json.loads(value) if column in JSON_COLUMNS and value is not None else value
        for column, value in zip(columns, row, strict=True)
    }


def select(db: Database, table: str, columns: Sequence[str], where: str, args: Sequence[Any] = ()) -> list[Row]:
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


def change(db: Database, table: str, row_id: str, values: Row, now: datetime) -> None:
    """Change columns of one row, and keep what rules read of it as it was. Only inside a write transaction."""
    if not values:
        return
    row = dict(values)
    if "stack_at_fitting" in row:
        row["baseline_unsure"] = 0
    _keep_as_it_was(db, table, row_id, row, now)
    if table in FED:
        row["seq"] = take_seqs(db, 1)
    db.conn.execute(
        f"UPDATE {table} SET {', '.join(f'{column} = ?' for column in row)} WHERE id = ?",
        [*(_packed(column, value) for column, value in row.items()), row_id],
    )


def _keep_as_it_was(db: Database, table: str, row_id: str, values: Row, now: datetime) -> None:
    kept_in, columns = BEFORE.get(table, ("", ()))
    new = {column: _packed(column, values[column]) for column in columns if column in values}
    if not new:
        return
    names, changes = ", ".join(columns), " OR ".join(f"{column} IS NOT ?" for column in new)
    db.conn.execute(
        f"INSERT INTO {kept_in} ({table}_id, {names}, until) SELECT id, {names}, ? FROM {table}"
        f" WHERE id = ? AND ({changes})",
        (now.isoformat(), row_id, *new.values()),
    )


def as_known(db: Database, table: str, row: Row, until: str | None) -> Row:
    """A row with what was known of it at an instant (None: now). Reads only."""
    if until is None:
        return row
    kept_in, columns = BEFORE[table]
    then = select(db, kept_in, columns, f"{table}_id = ? AND until > ? ORDER BY n LIMIT 1", (row["id"], until))
    return row | then[0] if then else row
