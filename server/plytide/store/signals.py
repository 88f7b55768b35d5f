"""Signals and their append-only life ↔ rows. The signal row is a projection of its events."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide import model
from plytide.store.ids import new_id

COLUMNS = (
    "id", "limb_id", "kind", "level", "since", "because", "evidence", "holds", "status", "assigned_to",
    "snoozed_until", "opened_at",
)  # fmt: skip


def _rows(db: Database, where: str, args: Sequence[Any]) -> list[dict[str, Any]]:
    found = []
    for row in db.conn.execute(f"SELECT {', '.join(COLUMNS)} FROM signal WHERE {where}", args):
        signal = dict(zip(COLUMNS, row, strict=True))
        signal["evidence"] = json.loads(signal["evidence"])
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


def events_of(db: Database, signal_id: str) -> list[dict[str, Any]]:
    rows = db.conn.execute(
        "SELECT at, event, by_staff, detail FROM signal_event WHERE signal_id = ? ORDER BY n", (signal_id,)
    )
    return [{"at": row[0], "event": row[1], "by": row[2], **json.loads(row[3])} for row in rows]


def set_status(db: Database, signal_id: str, **columns: Any) -> None:
    """Only inside a write transaction, beside the event that says so."""
    db.conn.execute(
        f"UPDATE signal SET {', '.join(f'{column} = ?' for column in columns)} WHERE id = ?",
        (*columns.values(), signal_id),
    )


def reconcile(db: Database, limb_id: str, said: Sequence[model.Signal], now: datetime) -> list[str]:
    """Bring a limb's signals to what the engine says now; ids of those newly opened or raised.

    One unclosed signal per kind. What is no longer seen stays until a person closes it, marked as not holding:
    a signal never silently vanishes. A closed one opens again for a later episode, when it gets worse than it was
    when closed, and, if urgent, for any new report: a blister told of again is not the one that was dealt with.
    """
    news: list[str] = []
    kept = of_limb(db, limb_id)
    for signal in said:
        same = next((row for row in kept if row["kind"] == signal.kind), None)
        since, evidence = signal.since.isoformat(), json.dumps(signal.evidence)
        if same is None or (same["status"] == "closed" and since > same["since"]):
            signal_id = new_id()
            db.conn.execute(
                f"INSERT INTO signal ({', '.join(COLUMNS)}) VALUES (?, ?, ?, ?, ?, ?, ?, 1, 'open', NULL, NULL, ?)",
                (
                    signal_id,
                    limb_id,
                    signal.kind,
                    signal.level,
                    since,
                    signal.because,
                    evidence,
                    now.isoformat(),
                ),
            )
            event(db, signal_id, now, "opened", level=signal.level, because=signal.because, since=since)
            news.append(signal_id)
            continue
        raised = model.SIGNAL_LEVELS.index(signal.level) > model.SIGNAL_LEVELS.index(same["level"])
        put_by = same["status"] in ("closed", "snoozed")
        again = put_by and signal.level == "urgent" and bool(set(signal.evidence) - set(same["evidence"]))
        if same["status"] == "closed" and not (raised or again):
            continue
        if raised:
            event(db, same["id"], now, "raised", level=signal.level, because=signal.because)
            news.append(same["id"])
        elif again:
            event(db, same["id"], now, "reported-again", because=signal.because)
            news.append(same["id"])
        elif not same["holds"]:
            event(db, same["id"], now, "seen-again", because=signal.because)
        set_status(
            db, same["id"], level=signal.level, because=signal.because, evidence=evidence, holds=1,
            **({"status": "open", "snoozed_until": None} if raised or again else {}),
        )  # fmt: skip
    seen = {signal.kind for signal in said}
    for row in kept:
        if row["status"] != "closed" and row["holds"] and row["kind"] not in seen:
            event(db, row["id"], now, "no-longer-seen")
            set_status(db, row["id"], holds=0)
    return news


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
