"""The phone's side: enrol, sync, me."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, Response

from plytide import access, sync
from plytide.access import Denied, clinic_db, device, settings
from plytide.routes.body import answer, json_object
from plytide.store import assessments, clinics, people
from plytide.store.devices import Device
from plytide.wire import checkin as wire
from plytide.wire import nouns
from plytide.wire.clinic import EnrolSchema, read

bp = Blueprint("phone", __name__, url_prefix="/api")

ENVELOPE = {"schema", "cursor", "checkins", "client_now", "app"}
SMALLER_PCT = 1.0  # judgement: less than this in four weeks is "about the same" to a wearer


def clinic_words() -> dict[str, Any]:
    """What a phone knows of its clinic: whom to call, the clinic's own words and limits."""
    clinic = clinics.clinic_row(clinic_db())
    own = clinic["settings"]
    return {
        "id": clinic["id"],
        "name": clinic["name"],
        "phone": own.get("phone"),
        "emergency_number": own.get("emergency_number", "112"),
        "redness_minutes": own.get("thresholds", {}).get("redness_minutes", 20),
        "words": own.get("words", {}),
    }


def people_of(phone: Device) -> list[dict[str, Any]]:
    db = clinic_db()
    found = []
    for person_id in phone.person_ids:
        person = people.person(db, person_id)
        if person:
            limbs = [(limb, people.sockets_of(db, limb["id"])) for limb in people.limbs_of(db, person_id)]
            found.append(nouns.nested_person(person, limbs))
    return found


@bp.post("/enrol")
def enrol() -> Response:
    """A one-time code for a token that is this phone's alone."""
    given = read(EnrolSchema(), json_object())
    token, phone = access.enrol(given["code"], given["label"])
    return answer(
        {
            "token": token,
            "role": phone.role,
            "device_id": phone.id,
            "people": people_of(phone),
            "clinic": clinic_words(),
        }
    )


def _trend(limb_id: str) -> dict[str, Any]:
    """What the clinic's side can say of a limb in words, for the wearer's own page."""
    kept = assessments.of_limb(clinic_db(), limb_id)
    change = kept["volume"]["change_28d_pct"] if kept else None
    code = "unknown"
    if change:
        code = "same"
        if change["high"] < 0 and change["value"] <= -SMALLER_PCT:
            code = "smaller"
        elif change["low"] > 0 and change["value"] >= SMALLER_PCT:
            code = "larger"
    return {"words_code": code, "change_28d_pct": change}


@bp.get("/me")
@access.phone
def me() -> Response:
    """The phone's people, limbs and sockets, and the clinic's words and limits."""
    db, phone, now = clinic_db(), device(), settings().now()
    found = people_of(phone)
    visits = people.next_visits(db, phone.person_ids, now.date().isoformat())
    return answer(
        {
            "device": {"id": phone.id, "label": phone.label, "role": phone.role},
            "clinic": clinic_words(),
            "people": found,
            "epoch": clinics.clinic_row(db)["epoch"],
            "server_time": now.isoformat(),
            "next_visits": [nouns.visit(visit) for visit in visits.values()],
            "seen": {limb["id"]: {"trend": _trend(limb["id"])} for person in found for limb in person["limbs"]},
        }
    )


def _skew(client_now: Any, now: datetime) -> int | None:
    """Seconds the phone's clock is ahead of ours; None when it does not say."""
    if not isinstance(client_now, str):
        return None
    try:
        said = datetime.fromisoformat(client_now)
    except ValueError:
        return None
    if said.tzinfo is None:
        said = said.replace(tzinfo=UTC)
    return int((said - now).total_seconds())


def _checked_envelope(body: dict[str, Any]) -> None:
    """Raises Denied for a call that can't be read at all; nothing of it is then kept."""
    wrong: dict[str, list[str]] = {name: ["Plytide does not know this field."] for name in body.keys() - ENVELOPE}
    if type(body.get("schema")) is not int or body["schema"] not in wire.SCHEMAS:
        known = ", ".join(str(version) for version in wire.SCHEMAS)
        wrong["schema"] = [f"This must be a version this clinic's server knows: {known}."]
    if not isinstance(body.get("checkins", []), list):
        wrong["checkins"] = ["This must be a list."]
    if not isinstance(body.get("cursor"), str | None):
        wrong["cursor"] = ["This must be text, or null to start."]
    if wrong:
        raise Denied(422, "invalid", "This call can't be read.", fields=wrong)
    if len(body.get("checkins", [])) > settings().sync_limit:
        most = settings().sync_limit
        raise Denied(
            413,
            "too-many",
            f"At most {most} check-ins a call.",
            fields={"checkins": [f"At most {most} a call."]},
        )


@bp.post("/sync")
@access.phone
def sync_() -> Response:
    """Keep what the phone sends, say so for each, and give what changed since its cursor."""
    body = json_object()
    _checked_envelope(body)
    now = settings().now()
    given = sync.exchange(
        clinic_db(),
        device(),
        body.get("checkins", []),
        sync.read_cursor(body.get("cursor")),
        now,
        _skew(body.get("client_now"), now),
        settings().page_size,
    )
    return answer({**given, "server_time": now.isoformat()})
