"""Phones: enrolled once with a code, known by a token ever after."""

from __future__ import annotations

import re

from flask import g, request

from plytide.auth.call import bearer, clinic_db, from_where, open_clinic, registry, settings
from plytide.auth.denied import Denied
from plytide.auth.tries import claim
from plytide.storage import assessment as assessments
from plytide.storage import audit
from plytide.storage import device as devices
from plytide.storage.device import Device
from plytide.storage.sqlite import write


def live_device() -> tuple[str, Device] | None:
    token = bearer()
    whose = registry().whose_token(token) if token else None
    if whose is None:
        return None
    db = open_clinic(whose[0])
    device = devices.live_device(db, whose[1])
    return (whose[0], device) if device else None


def shut_out_phone() -> str | None:
    """The id of the phone that calls, if the clinic ended its link; None for one that is live, or not known here."""
    token = bearer()
    if token is None:
        return None
    whose = registry().whose_token(token)
    if whose is None:
        return registry().shut_out_phone(token)
    return whose[1] if devices.is_revoked(open_clinic(whose[0]), whose[1]) else None


def device() -> Device:
    return g.device  # type: ignore[no-any-return]


ENROL_TRIES = 10
ATTEMPT = re.compile(r"[A-Za-z0-9_-]{32,64}")


def enrol_phone(code: str, label: str) -> tuple[str, Device]:
    """(token, phone) for a one-time code. A code works once, expires, and can't be guessed.

    A phone that got no answer names its attempt again.
    """
    attempt = _attempt()
    now, address = settings().now(), from_where()
    tries = [("enrol", address, ENROL_TRIES)]
    claim(tries)
    claimed = registry().claim_code(code, now, attempt)
    if isinstance(claimed, str):
        raise _not_this_code(claimed)
    device_id, clinic_id, enrolment_id = claimed
    # The phone first, then its token: a server that dies in between has used up no code.
    if devices.is_revoked(open_clinic(clinic_id), device_id):
        raise _not_this_code("used")
    with write(clinic_db()) as db:
        phone, is_new = devices.add_device(db, device_id, enrolment_id, label, now)
        if is_new:
            assessments.mark_stale(db, devices.limb_ids(db, phone.id), now)  # from now on silence says something
            audit.record(db, now, f"device:{phone.id}", "device.enrol", ",".join(phone.person_ids))
    token = registry().use_code(code, now, attempt)
    if token is None:
        raise _not_this_code("used")
    registry().succeeded("enrol", address)
    return token, phone


def _attempt() -> str | None:
    """The secret a phone made up for this try, if it is long enough to be one."""
    key = request.headers.get("Idempotency-Key", "")
    return key if ATTEMPT.fullmatch(key) else None


def _not_this_code(why: str) -> Denied:
    words = {
        "unknown": "This code is not right. Check each letter, or ask the clinic for a new one.",
        "used": "This code has been used. Ask the clinic for a new one.",
        "expired": "This code is too old. Ask the clinic for a new one.",
    }[why]
    return Denied(422, f"code-{why}", words, fields={"code": [words]})
