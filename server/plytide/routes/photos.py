"""Photos of skin, from phones and to those who may see them; and what people agreed to."""

from __future__ import annotations

import hashlib

from flask import Blueprint, Response, request

from plytide import access
from plytide.access import Denied, clinic_db, device, not_found, settings, who
from plytide.exchange.pictures import NotAPicture, cleaned
from plytide.routes.body import answer, json_object, raw_body
from plytide.routes.clinic import record_read, seen_limb
from plytide.routes.entry import refuse, seen_person
from plytide.store import audit, devices, photos
from plytide.store.sqlite import write
from plytide.wire.clinic import ConsentSchema, PaperConsentSchema, PhotoSchema, read

bp = Blueprint("photos", __name__, url_prefix="/api")


def picture(jpeg: bytes) -> Response:
    response = Response(jpeg, mimetype="image/jpeg")
    response.headers["Content-Disposition"] = "inline"
    return response


@bp.put("/photos/<photo_id>")
@access.phone
def put(photo_id: str) -> Response:
    """Keep a photo of a check-in, once, drawn anew without anything but the picture."""
    named = read(PhotoSchema(), {"id": photo_id, **request.args.to_dict()})
    db, phone, now = clinic_db(), device(), settings().now()
    if named["limb_id"] not in devices.limb_ids(db, phone.id):
        raise not_found()
    data = raw_body()
    digest = hashlib.sha256(data).digest()
    before = photos.sent_before(db, photo_id)
    if before is None:
        try:
            jpeg, size = cleaned(data)
        except NotAPicture as fault:
            raise Denied(422, "not-a-picture", str(fault), fields={"photo": [str(fault)]}) from fault
        with write(db):
            before = photos.sent_before(db, photo_id)
            if before is None:
                photos.keep(db, photo_id, named["limb_id"], named["checkin_id"], digest, jpeg, size, phone.id, now)
                audit.record(db, now, f"device:{phone.id}", "photo.keep", f"limb:{named['limb_id']}", photo_id)
        if before is None:
            return answer({"id": photo_id, "status": "kept"}, 201)
    if before != (named["limb_id"], digest):
        words = "A different photo already has this id."
        raise Denied(422, "id-used", words, fields={"id": [words]})
    return answer({"id": photo_id, "status": "already"})


@bp.get("/photos/<photo_id>")
@access.phone
def get(photo_id: str) -> Response:
    """A photo of one of the phone's own people."""
    found = photos.one(clinic_db(), photo_id)
    if found is None or found[0] not in devices.limb_ids(clinic_db(), device().id):
        raise not_found()
    if devices.own_only(clinic_db(), device()).get(found[0], found[2]) != found[2]:
        raise not_found()
    with write(clinic_db()) as db:
        audit.record(db, settings().now(), f"device:{device().id}", "photo.read", f"limb:{found[0]}", photo_id)
    return picture(found[1])


@bp.get("/clinic/photos/<photo_id>")
@access.clinic()
def get_for_clinic(photo_id: str) -> Response:
    """A photo, for the clinic's staff."""
    found = photos.one(clinic_db(), photo_id)
    if found is None:
        raise not_found()
    record_read("photo.read", f"limb:{found[0]}")
    return picture(found[1])


@bp.get("/clinic/limbs/<limb_id>/photos")
@access.clinic()
def of_limb(limb_id: str) -> Response:
    """Which photos there are of a limb."""
    seen_limb(limb_id)
    record_read("photos.read", f"limb:{limb_id}")
    return answer({"photos": photos.of_limb(clinic_db(), limb_id)})


@bp.post("/consents")
@access.phone
def consent() -> Response:
    """What the phone's holder agreed to for a person, or took back. Every word of it is kept."""
    given = read(ConsentSchema(), json_object())
    if given["person_id"] not in device().person_ids:
        raise not_found()
    now = settings().now()
    with write(clinic_db()) as db:
        photos.add_consent(db, given["person_id"], device().id, given["words"], given["agreed"], given["said_at"], now)
        audit.record(db, now, f"device:{device().id}", "consent", f"person:{given['person_id']}")
    return answer({"kept": True}, 201)


@bp.get("/clinic/people/<person_id>/consents")
@access.clinic()
def consents(person_id: str) -> Response:
    """What was agreed to, when, and from which phone; and what was said on paper."""
    seen_person(person_id)
    record_read("consents.read", f"person:{person_id}")
    db = clinic_db()
    return answer({"consents": photos.consents_of(db, person_id), "paper": photos.paper_consents_of(db, person_id)})


@bp.post("/clinic/people/<person_id>/consents")
@access.clinic()
def paper_consent(person_id: str) -> Response:
    """A consent that was given or taken back on paper: when, by whom, what for. A wrong one is answered by a new one."""
    seen_person(person_id)
    given = read(PaperConsentSchema(), json_object())
    now = settings().now()
    if given["on"] > now.date().isoformat():
        raise refuse("on", "This day has not come yet.")
    with write(clinic_db()) as db:
        photos.add_paper_consent(db, person_id, given, who().id, now)
        audit.record(db, now, f"staff:{who().id}", "consent.paper", f"person:{person_id}")
    return answer({"kept": True}, 201)
