"""What the clinic does with a signal: acknowledge, assign, snooze, close, reopen, undo. Each is an event."""

from __future__ import annotations

from typing import Any

from flask import Response, request

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import seen
from plytide.auth.guards import STAFF
from plytide.auth.session import who
from plytide.http.body import answer
from plytide.http.language import said_signal
from plytide.http.route import Routes, checked_body, one_of
from plytide.storage import signals
from plytide.storage.sqlite import write
from plytide.wire.signals import SignalActionSchema
from plytide.work import signal_actions

route = Routes("signals", "/api/clinic", called="matters", room="none")

ACTIONS = signal_actions.ACTIONS


@route("POST", f"/signals/<signal_id>/<any({', '.join(ACTIONS)}):action>", STAFF, body=SignalActionSchema)
def act(signal_id: str, action: str) -> Response:
    given = checked_body()
    with write(clinic_db()) as db:
        signal_actions.act(db, signal_id, action, given, who().id, settings().now())
    return answer(signal_to_json(signal_id))


@route("POST", "/signals/<signal_id>/undo", STAFF, query={"event": one_of(ACTIONS)})
def undo(signal_id: str) -> Response:
    """Take back the last thing staff did to this signal, by a new event; nothing is erased.

    With `?event=close`, only if that is still the caller's own last deed: an undo must not hit a colleague's.
    """
    with write(clinic_db()) as db:
        signal_actions.undo(db, signal_id, request.args.get("event"), who().id, settings().now())
    return answer(signal_to_json(signal_id))


def signal_to_json(signal_id: str) -> dict[str, Any]:
    signal = seen(signals.one(clinic_db(), signal_id))
    return said_signal(signal | {"events": signals.events_of(clinic_db(), signal_id)})
