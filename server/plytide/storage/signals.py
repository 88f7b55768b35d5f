"""Signals and their append-only life ↔ rows. The signal row is a projection of its events."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide.storage.ids import new_id

COLUMNS = (
    "id", "limb_id", "kind", "level", "since", "because", "evidence", "holds", "status", "assigned_to",
    "snoozed_until", "opened_at", "rule", "sentences",
)  # fmt: skip
#: Kinds whose advice stands on the phone: the wearer hears what the clinic did about them.
ADVISED = ("safety", "skin")
#: Kinds that people at the clinic make, or wearers by an answer: the engine says nothing of them.
BY_HAND = ("next-try", "message")
#: What staff do with a signal: each event holds the columns as they were `before`, so that it can be undone.
DEEDS = ("acknowledge", "assign", "snooze", "close", "reopen")


def _packed(column: str, value: Any) -> Any:
    return json.dumps(value) if column in ("evidence", "sentences") else value


def _rows(db: Database, where: str, args: Sequence[Any]) -> list[dict[str, Any]]:
    found = []
    for row in db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM signal WHERE {where}", args):
        signal = dict(zip(COLUMNS, row, strict=True))
        signal["evidence"] = json.loads(signal["evidence"])
        # None of a signal kept before there were codes: its because then is all there is.
        signal["sentences"] = json.loads(signal["sentences"] or "[]")
        signal["holds"] = bool(signal["holds"])
        found.append(signal)
    return found


def event(db: Database, signal_id: str, now: datetime, what: str, by_staff: str | None = None, **detail: Any) -> None:
    """Append to a signal's life. Only inside a write transaction."""
    db.conn.execute(
        "INSERT INTO signal_event (signal_id, at, event, by_staff, detail) VALUES (?, ?, ?, ?, ?)",
        (signal_id, now.isoformat(), what, by_staff, json.dumps(detail)),
    )


def of_limb(db: Database, limb_id: str) -> list[dict[str, Any]]:
    """All signals of a limb, newest first. Reads only."""
    return _rows(db, "limb_id = ? ORDER BY opened_at DESC, id DESC", (limb_id,))


def one(db: Database, signal_id: str) -> dict[str, Any] | None:
    found = _rows(db, "id = ?", (signal_id,))
    return found[0] if found else None


def unclosed(db: Database, limb_ids: Sequence[str]) -> dict[str, list[dict[str, Any]]]:
    """Signals not yet closed, by limb. Reads only."""
    by_limb: dict[str, list[dict[str, Any]]] = {limb_id: [] for limb_id in limb_ids}
    marks = ", ".join("?" * len(limb_ids))
    for signal in _rows(db, f"limb_id IN ({marks}) AND status != 'closed' ORDER BY since, id", list(limb_ids)):
        by_limb[signal["limb_id"]].append(signal)
    return by_limb


def assigned_to(db: Database, staff_id: str) -> list[str]:
    """Ids of the signals not yet closed that are a member of staff's. Reads only."""
    return [one["id"] for one in _rows(db, "assigned_to = ? AND status != 'closed' ORDER BY since, id", [staff_id])]


def events_of(db: Database, signal_id: str, until: str | None = None) -> list[dict[str, Any]]:
    """A signal's life, oldest first; with `until`, what had come by that instant. Reads only."""
    rows = db.conn.execute(
        "SELECT at, event, by_staff, detail FROM signal_event WHERE signal_id = ? AND (? IS NULL OR at < ?) ORDER BY n",
        (signal_id, until, until),
    )
    return [{"at": row[0], "event": row[1], "by": row[2], **json.loads(row[3])} for row in rows]


def set_status(db: Database, signal_id: str, **columns: Any) -> None:
    """Only inside a write transaction, beside the event that says so."""
    db.conn.execute(
        f"UPDATE signal SET {', '.join(f'{column} = ?' for column in columns)} WHERE id = ?",
        (*(_packed(column, value) for column, value in columns.items()), signal_id),
    )


def add(db: Database, limb_id: str, now: datetime, **columns: Any) -> str:
    """A new signal, open; its id. Only inside a write transaction, beside the event that says so."""
    row = {"id": new_id(), "limb_id": limb_id, "holds": 1, "status": "open", "opened_at": now.isoformat(), **columns}
    db.conn.execute(
        f"INSERT INTO signal ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})",
        [_packed(column, value) for column, value in row.items()],
    )
    return str(row["id"])


def open_new(
    db: Database,
    limb_id: str,
    now: datetime,
    kind: str,
    told: dict[str, Any],
    by_staff: str | None = None,
    *,
    rule: str | None = None,
    holds: bool = True,
    **detail: Any,
) -> str:
    """A new signal and the event that opens it; its id. `told`: level, since, evidence, because and its sentences.

    Only inside a write transaction.
    """
    signal_id = add(db, limb_id, now, kind=kind, rule=rule, holds=int(holds), **told)
    event(db, signal_id, now, "opened", by_staff, **told, **detail)
    return signal_id


def standing_events(events: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """A signal's events without the deeds that were undone, and without the undoing. Oldest first."""
    found: list[dict[str, Any]] = []
    for one in events:
        if one["event"] == "undo":
            # What an undo takes back is the last deed, whatever the rounds noted in between.
            last = next((n for n in reversed(range(len(found))) if found[n]["event"] in DEEDS), None)
            if last is not None:
                del found[last]
        else:
            found.append(one)
    return found


def looks(db: Database, limb_id: str, until: str | None = None) -> list[tuple[str, str, str | None, bool]]:
    """(instant, kind, rule, whether the limb was said to be clear) of each time somebody at the clinic acknowledged or
    closed a safety or skin signal of a limb, by then.

    What was undone by then is none, nor is a closing after which it was opened again. Reads only.
    """
    found = []
    for signal in of_limb(db, limb_id):
        if signal["kind"] not in ADVISED:
            continue
        own: list[dict[str, Any]] = []
        for one in standing_events(events_of(db, signal["id"], until)):
            if one["event"] in ("acknowledge", "close"):
                own.append(one)
            elif one["event"] == "reopen":
                own = [each for each in own if each["event"] != "close"]
        found += [(one["at"], signal["kind"], signal["rule"], bool(one.get("looked_clear"))) for one in own]
    return sorted(found, key=lambda look: look[0])


def wake(db: Database, now: datetime) -> list[str]:
    """Signals whose snooze is over are open again; the limbs they are of. Only inside a write transaction."""
    today = now.date().isoformat()
    over = _rows(db, "status = 'snoozed' AND snoozed_until <= ?", (today,))
    for signal in over:
        event(db, signal["id"], now, "woke", until=signal["snoozed_until"])
        set_status(db, signal["id"], status="open", snoozed_until=None)
    return [signal["limb_id"] for signal in over]


def urgent_among(db: Database, signal_ids: Sequence[str]) -> list[dict[str, Any]]:
    """Those of these signals that are urgent. Reads only."""
    marks = ", ".join("?" * len(signal_ids))
    return _rows(db, f"id IN ({marks}) AND level = 'urgent'", list(signal_ids))


def tally(db: Database) -> dict[str, int]:
    """Open signals by level. Reads only."""
    rows = db.conn.execute("SELECT level, count(*) FROM signal WHERE status = 'open' GROUP BY level")
    return dict(rows.fetchall())
