"""Photos of skin, from phones and to those who may see them; and what people agreed to."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from flask import Response, request

from plytide.auth import room
from plytide.auth.call import clinic_db, settings
from plytide.auth.denied import Denied, not_found
from plytide.auth.device import device
from plytide.auth.guards import PHONE, STAFF
from plytide.auth.session import who
from plytide.export.pictures import NotAPicture, cleaned
from plytide.http.audit import record_read
from plytide.http.body import answer, raw_body
from plytide.http.entry import refuse
from plytide.http.limb import seen_limb
from plytide.http.person import seen_person
from plytide.http.route import JPEG, TEXT, Routes, checked_body
from plytide.storage import audit, photos
from plytide.storage import checkin as checkins
from plytide.storage import device as devices
from plytide.storage.sqlite import write
from plytide.wire.body import read
from plytide.wire.photos import ConsentSchema, PaperConsentSchema, PhotoSchema

route = Routes("photos", "/api")


DECODING = threading.Lock()
PATIENCE = 10.0  # seconds a photo waits for the one before it


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Decoding takes memory: a worker decodes one photo at a time. Raises Denied 503; the phone keeps it and comes
    again.
    """
    if not DECODING.acquire(timeout=PATIENCE):
        raise Denied(503, "busy", "The server has many photos to keep just now. Try again soon.", retry_after=15)
    try:
        yield
    finally:
        DECODING.release()


def picture(jpeg: bytes) -> Response:
    response = Response(jpeg, mimetype="image/jpeg")
    response.headers["Content-Disposition"] = "inline"
    return response


@route(
    "PUT",
    "/photos/<photo_id>",
    PHONE,
    query={"limb_id": TEXT, "checkin_id": TEXT},
    cost="heavy",
    done=(200, 201),
    room="much",
)
def put(photo_id: str) -> Response:
    """Keep a photo of a check-in, once, drawn anew without anything but the picture.

    The phone holds it until `backed_up_at` of /api/me has passed `kept_at`.
    """
    named = read(PhotoSchema(), {"id": photo_id, **request.args.to_dict()})
    db, phone, now = clinic_db(), device(), settings().now()
    if named["limb_id"] not in devices.limb_ids(db, phone.id):
        raise not_found()
    data = raw_body()
    digest = hashlib.sha256(data).digest()
    before = photos.sent_before(db, photo_id)
    if before is None:
        known = checkins.already(db, [named["checkin_id"]]).get(named["checkin_id"])
        if known and known[0] != named["limb_id"]:
            raise refuse("checkin_id", "This check-in is of another limb.")
        room.for_clinic()
        room.for_person(named["limb_id"])
        try:
            with _one_at_a_time():
                jpeg, size = cleaned(data)
        except NotAPicture as fault:
            raise Denied(422, "not-a-picture", str(fault), fields={"photo": [str(fault)]}) from fault
        with write(db):
            before = photos.sent_before(db, photo_id)
            if before is None:
                photo = photos.Photo(photo_id, named["limb_id"], named["checkin_id"], digest, jpeg, size)
                photos.keep(db, photo, phone.id, now)
                audit.record(db, now, f"device:{phone.id}", "photo.keep", f"limb:{named['limb_id']}", photo_id)
        if before is None:
            return answer({"id": photo_id, "status": "kept", "kept_at": _done_by()}, 201)
    if before != (named["limb_id"], digest):
        words = "A different photo already has this id."
        raise Denied(422, "id-used", words, fields={"id": [words]})
    return answer({"id": photo_id, "status": "already", "kept_at": _done_by()})


def _done_by() -> str:
    """Asked after the commit: a backup that was begun since has the photo."""
    return settings().now().isoformat()


@route("GET", "/photos/<photo_id>", PHONE, cost="heavy", gives=JPEG)
def get(photo_id: str) -> Response:
    """A photo of one of the phone's own people."""
    found = photos.one(clinic_db(), photo_id)
    if found is None or found[0] not in devices.limb_ids(clinic_db(), device().id):
        raise not_found()
    if devices.own_only(clinic_db(), device()).get(found[0], found[2]) != found[2]:
        raise not_found()
    if found[2] != device().id and found[3] in devices.withheld(clinic_db(), device()):
        raise not_found()
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"device:{device().id}", "photo.read", f"limb:{found[0]}", photo_id)
    return picture(found[1])


@route("GET", "/clinic/photos/<photo_id>", STAFF, cost="heavy", gives=JPEG)
def get_for_clinic(photo_id: str) -> Response:
    """A photo, for the clinic's staff."""
    found = photos.one(clinic_db(), photo_id)
    if found is None:
        raise not_found()
    record_read("photo.read", f"limb:{found[0]}")
    return picture(found[1])


@route("GET", "/clinic/limbs/<limb_id>/photos", STAFF)
def of_limb(limb_id: str) -> Response:
    """Which photos there are of a limb."""
    seen_limb(limb_id)
    record_read("photos.read", f"limb:{limb_id}")
    return answer({"photos": photos.of_limb(clinic_db(), limb_id)})


@route("POST", "/consents", PHONE, body=ConsentSchema, done=201)
def consent() -> Response:
    """What the phone's holder agreed to for a person, or took back. Every word of it is kept."""
    given = checked_body()
    if given["person_id"] not in device().person_ids:
        raise not_found()
    now = settings().now()
    with write(clinic_db()) as db:
        photos.add_consent(db, given["person_id"], device().id, given["words"], given["agreed"], given["said_at"], now)
        audit.record(db, now, f"device:{device().id}", "consent", f"person:{given['person_id']}")
    return answer({"kept": True}, 201)


@route("GET", "/clinic/people/<person_id>/consents", STAFF)
def consents(person_id: str) -> Response:
    """What was agreed to, when, and from which phone; and what was said on paper."""
    seen_person(person_id)
    record_read("consents.read", f"person:{person_id}")
    db = clinic_db()
    return answer({"consents": photos.consents_of(db, person_id), "paper": photos.paper_consents_of(db, person_id)})


@route("POST", "/clinic/people/<person_id>/consents", STAFF, body=PaperConsentSchema, done=201)
def paper_consent(person_id: str) -> Response:
    """A consent that was given or taken back on paper: when, by whom, what for.

    A wrong one is answered by a new one.
    """
    seen_person(person_id)
    given = checked_body()
    now = settings().now()
    if given["on"] > now.date().isoformat():
        raise refuse("on", "This day has not come yet.")
    with write(clinic_db()) as db:
        photos.add_paper_consent(db, person_id, given, who().id, now)
        audit.record(db, now, f"staff:{who().id}", "consent.paper", f"person:{person_id}")
    return answer({"kept": True}, 201)
