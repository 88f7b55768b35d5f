"""How a limb's signals live on: what the engine says now against what was kept, and how they stood at an instant."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from plytide import model
from plytide.engine import safety
from plytide.storage import signals
from plytide.wire.history import signal as signal_to_json

SAID = ("level", "because", "since", "evidence", "sentences")  # what an event of the rounds holds of what was said


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a signal: of the row with `id` (None: a new one), what happened (None: nothing to tell) and
    the columns it leaves; `news` is told of by mail."""

    id: str | None
    event: str | None
    columns: dict[str, Any]
    detail: dict[str, Any] = field(default_factory=dict)
    news: bool = False


def urgency(row: Mapping[str, Any]) -> int:
    """1 to 3. A matter that is no longer seen stays until somebody closes it, one step down."""
    level = model.SIGNAL_LEVELS.index(row["level"]) + 1
    return level if row["holds"] else max(level - 1, 1)


def in_order(rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """A limb's signals, what is to be done first in front: the one order of the worklist, its reason and its page.

    What was put off comes last; then by urgency, what still holds, the order of the fixed rules, and the newest.
    """
    newest = sorted(rows, key=lambda row: row["since"], reverse=True)
    return sorted(
        newest, key=lambda row: (row["status"] == "snoozed", -urgency(row), not row["holds"], safety.rank(row["rule"]))
    )


def steps(
    kept: Sequence[dict[str, Any]], said: Sequence[model.Signal], emergencies: Collection[str] = ()
) -> list[Step]:
    """From a limb's signals as they are kept, newest first, to what the engine says now.

    One unclosed signal per kind and rule. What is no longer seen stays until a person closes it, marked as not holding:
    a signal never silently vanishes. A closed one opens again for a later episode, when it gets worse than it was
    when closed, and, if urgent or by a fixed rule, for any new report: a blister told of again is not the one that was
    dealt with. An acknowledged one opens again for a new report of one of the rules that are `emergencies`, and for a
    finding or sign that it did not tell of: who looked at a blister has not seen the wound beside it.
    """
    found = [step for signal in said if (step := _step(_row_of(kept, signal), signal, emergencies)) is not None]
    seen = {(signal.kind, signal.rule) for signal in said}
    return found + [
        Step(row["id"], "no-longer-seen", {"holds": 0})
        for row in kept
        if row["kind"] not in signals.BY_HAND
        and row["status"] != "closed"
        and row["holds"]
        and (row["kind"], row["rule"]) not in seen
    ]


def _step(same: dict[str, Any] | None, signal: model.Signal, emergencies: Collection[str]) -> Step | None:
    since, evidence = signal.since.isoformat(), list(signal.evidence)
    words = {"because": signal.because, "sentences": signal_to_json(signal)["sentences"]}
    now: dict[str, Any] = {"level": signal.level, "evidence": evidence, "rule": signal.rule, **words}
    told: dict[str, Any] = {"evidence": evidence, **words}
    if same is None or (same["status"] == "closed" and since > same["since"]):
        return Step(
            None,
            "opened",
            {"kind": signal.kind, "since": since, **now},
            {"level": signal.level, "since": since, **told},
            news=True,
        )
    raised = model.SIGNAL_LEVELS.index(signal.level) > model.SIGNAL_LEVELS.index(same["level"])
    put_by = same["status"] in ("closed", "snoozed")
    if same["status"] == "acknowledged":
        put_by = signal.rule in emergencies or bool(_found(words["sentences"]) - _found(same["sentences"]))
    told_anew = signal.level == "urgent" or signal.rule is not None
    again = put_by and told_anew and bool(set(signal.evidence) - set(same["evidence"]))
    if same["status"] == "closed" and not (raised or again):
        return None
    columns = {**now, "holds": 1, **({"status": "open", "snoozed_until": None} if raised or again else {})}
    if raised:
        return Step(same["id"], "raised", columns, {"level": signal.level, **told}, news=True)
    if again:
        return Step(same["id"], "reported-again", columns, told, news=True)
    return Step(same["id"], None if same["holds"] else "seen-again", columns, told)


def _found(sentences: Sequence[Mapping[str, Any]]) -> set[str]:
    """What of a signal's sentences names a finding or a sign, with its place."""
    return {json.dumps(one, sort_keys=True) for one in sentences if one["code"] in ("safety.finding", "safety.sign")}


def _row_of(kept: Sequence[dict[str, Any]], signal: model.Signal) -> dict[str, Any] | None:
    """The newest row that is of the same matter; one kept before signals named their rule is taken by its evidence."""
    for row in kept:
        if row["kind"] == signal.kind and row["rule"] == signal.rule:
            return row
    unnamed = (row for row in kept if signal.rule and row["kind"] == signal.kind and row["rule"] is None)
    return next((row for row in unnamed if set(row["evidence"]) & set(signal.evidence)), None)


def reconcile(
    db: Database,
    limb_id: str,
    said: Sequence[model.Signal],
    now: datetime,
    emergencies: Collection[str] = (),
    *,
    whole: bool = True,
) -> list[str]:
    """Bring a limb's signals to what the engine says now; ids of those newly opened or raised. Not `whole`: that is not
    all there is to say, so what is not in it is no less seen.

    Only inside a write transaction.
    """
    news: list[str] = []
    for step in steps(signals.of_limb(db, limb_id), said, emergencies):
        if step.event == "no-longer-seen" and not whole:
            continue
        if step.id is None:
            signal_id = signals.add(db, limb_id, now, **step.columns)
        else:
            signal_id = step.id
            signals.set_status(db, signal_id, **step.columns)
        if step.event:
            signals.event(db, signal_id, now, step.event, **step.detail)
        if step.news:
            news.append(signal_id)
    return news


def as_they_stood(db: Database, limb_id: str, until: str) -> list[dict[str, Any]]:
    """The signals of a limb as they were said and dealt with by an instant, newest first, from their events.

    An event from before its entries were kept with it names none: then the row's own, which may be of later days.
    """
    found = []
    for row in signals.of_limb(db, limb_id):
        events = signals.events_of(db, row["id"], until)
        if not events:
            continue
        then = row | {"status": "open", "assigned_to": None, "snoozed_until": None, "holds": True, "events": events}
        for n, one in enumerate(events):
            if "because" in one:
                then["sentences"] = []  # an event from before there were codes has words of its own, and none of these
            then |= {name: one[name] for name in SAID if name in one} | _after(one, then["holds"], events[:n])
        found.append(then)
    return found


def _after(one: dict[str, Any], holds: bool, before: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The columns an event changed, of a signal that did or did not hold, after the events `before` it."""
    match one["event"]:
        case "acknowledge":
            return {"status": "acknowledged", "snoozed_until": None}
        case "assign":
            return {"assigned_to": one["staff_id"]}
        case "snooze":
            return {"status": "snoozed", "snoozed_until": one["until"]}
        case "close":
            return {"status": "closed", "snoozed_until": None}
        case "reopen" | "woke" | "raised" | "reported-again":
            return {
                "status": "open",
                "snoozed_until": None,
                "holds": holds or one["event"] in ("raised", "reported-again"),
            }
        case "undo":
            return dict(next(each["before"] for each in reversed(before) if "before" in each))
        case "no-longer-seen":
            return {"holds": False}
        case "seen-again":
            return {"holds": True}
    return {}
