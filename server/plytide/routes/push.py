"""Reminders by push: the key to subscribe with, a phone's times, a pause, and an end to it."""

from __future__ import annotations

from datetime import timedelta

from flask import Blueprint, Response

from plytide import access, reminders
from plytide.access import Denied, clinic_db, device, settings
from plytide.routes.body import answer, json_object
from plytide.store import push
from plytide.store.sqlite import write
from plytide.wire.clinic import PauseSchema, PushSchema, read

bp = Blueprint("push", __name__, url_prefix="/api/push")


@bp.get("")
@access.phone
def get() -> Response:
    """The server's public push key, and this phone's reminders if it has any."""
    kept = push.of_device(clinic_db(), device().id)
    said = (
        {name: kept[name] for name in ("at", "zone", "quiet_from", "quiet_to", "paused_until", "next_at", "language")}
        if kept
        else None
    )
    endpoint = kept["subscription"]["endpoint"] if kept else None
    return answer({"key": reminders.public_key(settings().data_dir), "reminders": said, "endpoint": endpoint})


@bp.put("")
@access.phone
def put() -> Response:
    """Remind this phone at these times, by its own clock, in its own language."""
    given = read(PushSchema(), json_object())
    if not reminders.may_push_to(given["subscription"]["endpoint"], settings().push_local):
        words = "This is not the address of a push service."
        raise Denied(422, "invalid", words, fields={"subscription.endpoint": [words]})
    row = {"quiet_from": None, "quiet_to": None, "paused_until": None, **given}
    row["next_at"] = reminders.next_time(row, settings().now())
    with write(clinic_db()) as db:
        push.keep(db, device().id, row)
    return answer({"next_at": row["next_at"]})


@bp.post("/pause")
@access.phone
def pause() -> Response:
    """No reminders for so many hours; 0 ends the pause."""
    hours = read(PauseSchema(), json_object())["hours"]
    kept = push.of_device(clinic_db(), device().id)
    if kept is None:
        raise access.not_found()
    until = (settings().now() + timedelta(hours=hours)).isoformat() if hours else None
    with write(clinic_db()) as db:
        push.set_next(db, device().id, kept["next_at"], until)
    return answer({"paused_until": until})


@bp.delete("")
@access.phone
def delete() -> Response:
    """No more reminders to this phone."""
    with write(clinic_db()) as db:
        push.forget(db, device().id)
    return answer({"forgotten": True})
