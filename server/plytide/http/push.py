"""Reminders by push: the key to subscribe with, a phone's times, a pause, and an end to it."""

from __future__ import annotations

from datetime import timedelta

from flask import Response

from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied, not_found
from plytide.auth.device import device
from plytide.auth.guards import PHONE
from plytide.http.body import answer
from plytide.http.route import Routes, checked_body
from plytide.storage import push, set_aside
from plytide.storage.sqlite import write
from plytide.wire.push import PauseSchema, PushSchema
from plytide.work import reminders
from plytide.work.languages import languages

route = Routes("push", "/api/push")


@route("GET", "", PHONE)
def get() -> Response:
    """The server's public push key, and this phone's reminders if it has any."""
    kept = push.of_device(clinic_db(), device().id)
    reminder = (
        {name: kept[name] for name in ("at", "zone", "quiet_from", "quiet_to", "paused_until", "next_at", "language")}
        if kept
        else None
    )
    endpoint = kept["subscription"]["endpoint"] if kept else None
    return answer({"key": reminders.public_key(settings().data_dir), "reminders": reminder, "endpoint": endpoint})


@route("PUT", "", PHONE, body=PushSchema)
def put() -> Response:
    """Remind this phone at these times, by its own clock, in its own language."""
    given = checked_body()
    if not reminders.may_push_to(given["subscription"]["endpoint"], settings().push_local):
        words = "This is not the address of a push service."
        raise Denied(422, "invalid", words, fields={"subscription.endpoint": [words]})
    if not reminders.is_point(given["subscription"]["keys"]["p256dh"]):
        words = "This is not a key of a push subscription."
        raise Denied(422, "invalid", words, fields={"subscription.keys.p256dh": [words]})
    spoken = languages(settings().web_root)
    if given["language"] not in spoken:
        words = f"This must be one of: {', '.join(spoken)}."
        raise Denied(422, "invalid", words, fields={"language": [words]})
    row = {"quiet_from": None, "quiet_to": None, "paused_until": None, **given}
    row["next_at"] = reminders.next_time(row, settings().now())
    with write(clinic_db()) as db:
        push.keep(db, device().id, row)
        set_aside.well(db, "reminder", [device().id])
    return answer({"next_at": row["next_at"]})


@route("POST", "/pause", PHONE, body=PauseSchema)
def pause() -> Response:
    """No reminders for so many hours; 0 ends the pause."""
    hours = checked_body()["hours"]
    kept = push.of_device(clinic_db(), device().id)
    if kept is None:
        raise not_found()
    until = (settings().now() + timedelta(hours=hours)).isoformat() if hours else None
    with write(clinic_db()) as db:
        push.set_next(db, device().id, kept["next_at"], until)
    return answer({"paused_until": until})


@route("DELETE", "", PHONE)
def delete() -> Response:
    """No more reminders to this phone."""
    with write(clinic_db()) as db:
        push.forget(db, device().id)
        set_aside.well(db, "reminder", [device().id])
    return answer({"forgotten": True})
