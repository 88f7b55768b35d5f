"""What was decided on a recast, with its reasons and the assessment as it stood ↔ rows. Taken back, never erased."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id
from plytide.storage.making import MISTAKEN

NO_RECAST = ("wait", "keep")
COLUMNS = (
    "id", "limb_id", "decided_on", "choice", "planned_on", "reasons", "note", "assessment", "by_staff",
    "taken_back_at", "created_at",
)  # fmt: skip


def _rows(db: Database, where: str, args: tuple[Any, ...]) -> list[dict[str, Any]]:
    found = []
    for row in db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM decision WHERE {where}", args):
        decision = dict(zip(COLUMNS, row, strict=True))
        decision["reasons"] = json.loads(decision["reasons"])
        decision["assessment"] = json.loads(decision["assessment"])
        found.append(decision)
    return found


def add(db: Database, limb_id: str, values: dict[str, Any], assessment: Any, staff_id: str, now: datetime) -> str:
    """Only inside a write transaction."""
    decision_id = new_id()
    db.conn.execute(
        f"INSERT INTO decision ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})",
        (
            decision_id,
            limb_id,
            values["on"],
            values["choice"],
            values.get("planned_on"),
            json.dumps(values["reasons"]),
            values.get("note"),
            json.dumps(assessment),
            staff_id,
            None,
            now.isoformat(),
        ),
    )
    return decision_id


def of_limb(db: Database, limb_id: str) -> list[dict[str, Any]]:
    """Newest first, those taken back too. Reads only."""
    return _rows(db, "limb_id = ? ORDER BY created_at DESC", (limb_id,))


def one(db: Database, decision_id: str) -> dict[str, Any] | None:
    found = _rows(db, "id = ?", (decision_id,))
    return found[0] if found else None


def take_back(db: Database, decision_id: str, now: datetime) -> None:
    """Only inside a write transaction."""
    db.conn.execute("UPDATE decision SET taken_back_at = ? WHERE id = ?", (now.isoformat(), decision_id))


def standing_of(db: Database, limb_id: str, until: str | None = None) -> list[tuple[str, str, str | None]]:
    """(decided on, choice, planned on) of those that stood at an instant (None: now), oldest first. Reads only."""
    return db.conn.execute(
        "SELECT decided_on, choice, planned_on FROM decision WHERE limb_id = ?1"
        " AND (?2 IS NULL OR created_at < ?2)"
        " AND (taken_back_at IS NULL OR (?2 IS NOT NULL AND taken_back_at >= ?2)) ORDER BY created_at, rowid",
        (limb_id, until),
    ).fetchall()


#: A decision still to be carried out: not taken back, and no socket has been fitted since.
UNDONE = (
    "taken_back_at IS NULL AND NOT EXISTS (SELECT 1 FROM socket WHERE socket.limb_id = decision.limb_id"
    f" AND socket.id NOT IN ({MISTAKEN})"
    " AND (socket.fitted_on >= decision.planned_on"
    " OR (socket.fitted_on >= decision.decided_on AND socket.created_at > decision.created_at)))"
)


def undone(db: Database) -> dict[str, dict[str, Any]]:
    """limb id → its newest decision that is still to be carried out. Reads only."""
    rows = db.conn.execute(
        f"SELECT limb_id, id, decided_on, choice, planned_on FROM decision WHERE {UNDONE} ORDER BY created_at, rowid"
    )
    return {row[0]: dict(zip(("id", "on", "choice", "planned_on"), row[1:], strict=True)) for row in rows}


def planned(db: Database) -> dict[str, dict[str, Any]]:
    """limb id → its newest decision, where that is a recast with a date and not done yet. Reads only."""
    return {
        limb_id: row
        for limb_id, row in undone(db).items()
        if row["planned_on"] is not None and row["choice"] not in NO_RECAST
    }


def forecasts(db: Database) -> list[dict[str, Any]]:
    """What chair time needs of every limb: state and why, settling forecast, the socket worn. Reads only."""
    rows = db.conn.execute(
        "SELECT assessment.limb_id, state, assessment.body -> 'readiness' -> 'settles_on', person.id, person.name,"
        " (SELECT json_array(purpose, fitted_on) FROM socket WHERE socket.limb_id = assessment.limb_id"
        "  AND retired_on IS NULL ORDER BY fitted_on DESC LIMIT 1),"
        " state_since, assessment.body ->> '$.readiness.reasons[0].text'"
        " FROM assessment JOIN limb ON limb.id = assessment.limb_id JOIN person ON person.id = person_id"
        " ORDER BY assessment.limb_id"
    )
    return [
        {
            "limb_id": row[0],
            "state": row[1],
            "settles_on": json.loads(row[2]) if row[2] else None,
            "person": {"id": row[3], "name": row[4]},
            "worn": json.loads(row[5]) if row[5] else None,  # [purpose, fitted on]
            "since": row[6],
            "why": row[7],
        }
        for row in rows
    ]
