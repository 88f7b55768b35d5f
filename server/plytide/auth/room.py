"""Whether there is room for what a call brings: by phone, person, clinic and disk. Check-ins are the last to be
refused.

What a caller sends is counted in each worker's own memory by the hour, as calls are by the minute.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from flask import Flask, current_app, g, request
from limits import RateLimitItemPerHour
from limits.storage import MemoryStorage
from limits.strategies import FixedWindowRateLimiter

from plytide.auth.call import clinic_db, registry, settings
from plytide.auth.denied import Denied
from plytide.auth.guards import SAFE
from plytide.auth.rate_limit import caller, is_here
from plytide.storage import clinics, photos
from plytide.storage.files import room
from plytide.storage.files.room import Need

WAIT = 15 * 60  # seconds until a phone asks again
FULL = "There is no room for this on the server just now. Nothing is lost: it is tried again. Tell whoever runs it."


def keep(app: Flask, need_here: Callable[[], Need]) -> None:
    """Ask before every write of `app`; `need_here` says what room the call at hand needs."""
    app.extensions["plytide_bytes"] = (
        FixedWindowRateLimiter(MemoryStorage()),
        RateLimitItemPerHour(max(app.config["SETTINGS"].bytes_an_hour // 1000, 1)),
    )

    def ask() -> None:
        if request.method in SAFE:
            return
        if not room.enough(settings().data_dir, settings().least_free_bytes, need_here()):
            raise Denied(507, "no-room", FULL, retry_after=WAIT)

    app.before_request(ask)


def weigh(size: int) -> None:
    """Count what a caller sends, as it is once unpacked. Raises Denied 429 for more than one may in an hour."""
    if is_here(request.remote_addr or "") or "weighed" in g:
        return
    g.weighed = True
    limiter, item = current_app.extensions["plytide_bytes"]
    whose = caller()
    if not limiter.hit(item, "bytes", whose, cost=size // 1000 + 1):
        wait = max(round(limiter.get_window_stats(item, "bytes", whose).reset_time - time.time()), 1)
        words = f"This is too much in one hour. Nothing is lost: it is taken in {wait // 60 + 1} minutes."
        raise Denied(429, "too-many-bytes", words, retry_after=wait)


def for_clinic() -> None:
    """Raises Denied 507 when the caller's clinic has taken all its room. Only for what needs much."""
    if room.taken(_file()) >= settings().clinic_bytes:
        raise Denied(
            507, "no-room", "Your clinic has used up its room on the server. Tell your clinic.", retry_after=WAIT
        )


def for_person(limb_id: str) -> None:
    """Raises Denied 413 when the photos of this limb's person take all the room one person has."""
    if photos.bytes_of_person(clinic_db(), limb_id) >= settings().person_bytes:
        words = "There are too many photos of this person on the server. Ask your clinic."
        raise Denied(413, "person-full", words, fields={"photo": [words]})


def _file() -> Path:
    file = registry().clinic_file(clinics.clinic_row(clinic_db())["id"])
    return clinics.clinic_path(settings().data_dir, str(file))


def clinic_warnings() -> list[str]:
    """What the caller's clinic is told of its room, before anything stops."""
    return room.of_disk(settings().data_dir, settings().least_free_bytes) + room.of_clinic(
        _file(), settings().clinic_bytes
    )
