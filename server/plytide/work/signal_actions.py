"""What staff do with a signal: acknowledge, assign, snooze, close, reopen, undo. Each is an event, none is erased.

All that changes something only inside a write transaction.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any

from sqlite_utils import Database

from plytide.engine import safety
from plytide.storage import assessment as assessments
from plytide.storage import audit, signals, staff
from plytide.storage import limb as limbs
from plytide.work import message, reassess
from plytide.work import visit as visits
from plytide.work.refusal import Missing, Refusal

ACTIONS = ("acknowledge", "assign", "snooze", "close", "reopen")
PUT_OFF_DAYS = 7  # of an emergency: it is looked at anew every week; judgement
ANSWERED = ("acknowledge", "snooze", "close")  # with these, words for the wearer may go
VISIT, BOOKED = {"visit", "visits", "appointment"}, {"booked", "book", "booking"}  # said together only with a visit


def act(db: Database, signal_id: str, action: str, given: dict[str, Any], staff_id: str, now: datetime) -> None:
    """Keep what a member of staff did about a signal, and which entries they did it about. Raises Refusal, Missing."""
    signal = signals.one(db, signal_id)
    if signal is None:
        raise Missing(signal_id)
    given = with_answer(given, signal["kind"], action)
    person_id = (limbs.one(db, signal["limb_id"]) or {})["person_id"]
    latest = now.date() + timedelta(days=PUT_OFF_DAYS)
    if (
        action == "snooze"
        and signal["rule"] in safety.emergencies()
        and (given.get("until") or "") > latest.isoformat()
    ):
        raise Refusal("until", f"An emergency can be put off by {PUT_OFF_DAYS} days at most: until {latest}.")
    columns = columns_for(db, action, given, person_id, now.date())
    visit = visits.checked(given.pop("visit", None), now.date())
    if signal["status"] == "closed" and action != "reopen":  # somebody may have acted since it was shown
        raise Refusal("signal", "This was closed in the meantime. Open it again to act on it.")
    if visit:
        given["visit_id"] = visits.book(db, person_id, visit, staff_id, now)
    before = {column: signal[column] for column in columns}
    about = {"evidence": signal["evidence"]} if signal["kind"] in signals.ADVISED else {}
    signals.event(db, signal_id, now, action, staff_id, before=before, **about, **given)
    signals.set_status(db, signal_id, **columns)
    if signal["kind"] == message.WAITS and action in ("acknowledge", "close"):
        message.read_all(db, person_id, staff_id, now)
    _acted(db, signal, f"signal.{action}", staff_id, now)


def columns_for(db: Database, action: str, given: dict[str, Any], person_id: str, today: date) -> dict[str, Any]:
    """The signal's new columns. Raises Refusal for what the action needs."""
    if action == "acknowledge":
        return {"status": "acknowledged", "snoozed_until": None}
    if action == "assign":
        if not given.get("staff_id") or staff.one(db, given["staff_id"]) is None:
            raise Refusal("staff_id", "Choose a member of staff.")
        return {"assigned_to": given["staff_id"]}
    if action == "snooze":
        if not given.get("until") or given["until"] <= today.isoformat():
            raise Refusal("until", "Choose a day after today.")
        return {"status": "snoozed", "snoozed_until": given["until"]}
    if action == "close":
        if not given.get("outcome"):
            raise Refusal("outcome", "Say what came of it.")
        if says_visit_booked(given["outcome"]) and not given.get("visit"):
            visits.needed(db, "outcome", person_id, today)
        return {"status": "closed", "snoozed_until": None}
    return {"status": "open", "snoozed_until": None}


def says_visit_booked(outcome: str) -> bool:
    """Whether an outcome says, in whatever order, that a visit is booked."""
    words = set(re.findall(r"[a-z]+", outcome.lower()))
    return bool(words & VISIT and words & BOOKED)


def with_answer(given: dict[str, Any], kind: str, action: str) -> dict[str, Any]:
    """What was given, without an empty answer. Raises Refusal for words that no phone would show."""
    given = dict(given)
    words = (given.pop("answer", None) or "").strip()
    if not words:
        return given
    if action not in ANSWERED:
        raise Refusal("answer", "Words for the wearer go with acknowledging, putting off or closing.")
    if kind not in signals.ADVISED:
        raise Refusal("answer", "A phone shows the clinic's words only beside advice on safety and skin.")
    return given | {"answer": words}


def undo(db: Database, signal_id: str, mine: str | None, staff_id: str, now: datetime) -> None:
    """Take back the last thing staff did to this signal, by a new event.

    With `mine` (an action), only if that is still the caller's own last deed: an undo must not hit a colleague's.
    Raises Refusal, Missing.
    """
    signal = signals.one(db, signal_id)
    if signal is None:
        raise Missing(signal_id)
    events = signals.events_of(db, signal_id)
    last = next((event for event in reversed(events) if "before" in event or event["event"] == "undo"), None)
    if last is None or last["event"] == "undo":
        raise Refusal("signal", "There is nothing to undo.")
    if mine and (last["event"], last["by"]) != (mine, staff_id):
        raise Refusal("signal", "Somebody has acted on this since, so there is nothing of yours to undo.")
    signals.event(db, signal_id, now, "undo", staff_id, undone=last["event"])
    signals.set_status(db, signal_id, **last["before"])
    _acted(db, signal, "signal.undo", staff_id, now)


def _acted(db: Database, signal: dict[str, Any], deed: str, staff_id: str, now: datetime) -> None:
    """A limb's row where it now belongs; what lifts a hold by skin is read anew."""
    reassess.rank(db, signal["limb_id"])
    if signal["kind"] in signals.ADVISED:
        assessments.mark_stale(db, [signal["limb_id"]], now)
    audit.record(db, now, f"staff:{staff_id}", deed, f"signal:{signal['id']}")
