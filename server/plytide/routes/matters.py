"""What the clinic does with a signal: acknowledge, assign, snooze, close, reopen, undo. Each is an event."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, request

from plytide import access, rounds
from plytide.access import clinic_db, not_found, settings, who
from plytide.routes.body import answer, json_object
from plytide.routes.entry import refuse
from plytide.store import audit, signals, staff
from plytide.store.sqlite import write
from plytide.wire.clinic import SignalActionSchema, read

bp = Blueprint("matters", __name__, url_prefix="/api/clinic")

ACTIONS = ("acknowledge", "assign", "snooze", "close", "reopen")


def columns_for(action: str, given: dict[str, Any]) -> dict[str, Any]:
    """The signal's new columns. Raises 422 for what the action needs."""
    if action == "acknowledge":
        return {"status": "acknowledged", "snoozed_until": None}
    if action == "assign":
        if not given.get("staff_id") or staff.one(clinic_db(), given["staff_id"]) is None:
            raise refuse("staff_id", "Choose a member of staff.")
        return {"assigned_to": given["staff_id"]}
    if action == "snooze":
        if not given.get("until") or given["until"] <= settings().now().date().isoformat():
            raise refuse("until", "Choose a day after today.")
        return {"status": "snoozed", "snoozed_until": given["until"]}
    if action == "close":
        if not given.get("outcome"):
            raise refuse("outcome", "Say what came of it.")
        return {"status": "closed", "snoozed_until": None}
    return {"status": "open", "snoozed_until": None}


@bp.post(f"/signals/<signal_id>/<any({', '.join(ACTIONS)}):action>")
@access.clinic()
def act(signal_id: str, action: str) -> Response:
    signal = signals.one(clinic_db(), signal_id)
    if signal is None:
        raise not_found()
    given = read(SignalActionSchema(), json_object())
    columns = columns_for(action, given)
    now = settings().now()
    with write(clinic_db()) as db:
        signal = signals.one(db, signal_id) or signal  # as it stands now: somebody may have acted since it was shown
        if signal["status"] == "closed" and action != "reopen":
            raise refuse("signal", "This was closed in the meantime. Open it again to act on it.")
        before = {column: signal[column] for column in columns}
        signals.event(db, signal_id, now, action, who().id, before=before, **given)
        signals.set_status(db, signal_id, **columns)
        rounds.rank(db, signal["limb_id"])
        audit.record(db, now, f"staff:{who().id}", f"signal.{action}", f"signal:{signal_id}")
    return answer(said(signal_id))


@bp.post("/signals/<signal_id>/undo")
@access.clinic()
def undo(signal_id: str) -> Response:
    """Take back the last thing staff did to this signal, by a new event; nothing is erased.

    With `?event=close`, only if that is still the caller's own last deed: an undo must not hit a colleague's.
    """
    mine = request.args.get("event")
    db = clinic_db()
    signal = signals.one(db, signal_id)
    if signal is None:
        raise not_found()
    now = settings().now()
    with write(db):
        events = signals.events_of(db, signal_id)
        last = next((event for event in reversed(events) if "before" in event or event["event"] == "undo"), None)
        if last is None or last["event"] == "undo":
            raise refuse("signal", "There is nothing to undo.")
        if mine and (last["event"], last["by"]) != (mine, who().id):
            raise refuse("signal", "Somebody has acted on this since, so there is nothing of yours to undo.")
        signals.event(db, signal_id, now, "undo", who().id, undone=last["event"])
        signals.set_status(db, signal_id, **last["before"])
        rounds.rank(db, signal["limb_id"])
        audit.record(db, now, f"staff:{who().id}", "signal.undo", f"signal:{signal_id}")
    return answer(said(signal_id))


def said(signal_id: str) -> dict[str, Any]:
    signal = signals.one(clinic_db(), signal_id)
    if signal is None:
        raise not_found()
    return signal | {"events": signals.events_of(clinic_db(), signal_id)}
