"""The phone's side: enrol, sync, me."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from flask import Response

from plytide.auth.call import clinic_db, registry, settings
from plytide.auth.denied import Denied
from plytide.auth.device import device, enrol_phone
from plytide.auth.guards import ANYBODY, PHONE
from plytide.http.body import answer, json_loosely
from plytide.http.route import Routes, checked_body
from plytide.storage import advice, clinics, profile
from plytide.storage import assessment as assessments
from plytide.storage import device as devices
from plytide.storage import limb as limbs
from plytide.storage import person as people
from plytide.storage import socket as sockets
from plytide.storage import visit as visits
from plytide.storage.device import Device
from plytide.storage.files import backed_up
from plytide.wire import checkin as wire
from plytide.wire import nouns
from plytide.wire import visit as visit_wire
from plytide.wire.device import EnrolSchema
from plytide.wire.message import MOST_ANSWERS
from plytide.work import message, pocket, sync

route = Routes("phone", "/api")

SYNC_BODY: dict[str, Any] = {
    "type": "object",
    "required": ["schema"],
    "additionalProperties": False,
    "properties": {
        "schema": {"type": "integer", "enum": list(wire.SCHEMAS)},
        "cursor": {"type": ["string", "null"]},
        "checkins": {
            "type": "array",
            "maxItems": 500,
            "items": {},
            "description": "Each is checked by itself against CheckIn, and answered by a receipt of its own.",
        },
        "answers": {
            "type": "array",
            "maxItems": MOST_ANSWERS,
            "items": {},
            "description": "What was seen of the clinic's messages and answered to them: each has its own receipt.",
        },
        "client_now": {"type": "string"},
        "app": {"type": "string"},
    },
    "description": "Check-ins are #/components/schemas/CheckIn.",
}
VISITS_BACK = 7  # days; judgement
SMALLER_PCT = 1.0  # judgement: less than this in four weeks is "about the same" to a wearer


def clinic_words() -> dict[str, Any]:
    """What a phone knows of its clinic: whom to call, the clinic's own words and limits."""
    clinic = clinics.clinic_row(clinic_db())
    own = clinic["settings"]
    return {
        "id": clinic["id"],
        "name": clinic["name"],
        "phone": own.get("phone"),
        "emergency_number": own.get("emergency_number", clinics.EMERGENCY),
        "contact": clinics.contact(own),
        "redness_minutes": own.get("thresholds", {}).get("redness_minutes", 20),
        "words": own.get("words", {}),
    }


def people_of(phone: Device) -> list[dict[str, Any]]:
    db = clinic_db()
    own = clinics.clinic_row(db)["settings"]
    found, partly = [], devices.partly_seen(db, phone)
    for person_id in phone.person_ids:
        person = people.one(db, person_id)
        if person:
            owned = [(limb, sockets.of_limb(db, limb["id"])) for limb in limbs.of_person(db, person_id)]
            past = profile.past(db, person, own)
            more = {"profile_before": [nouns.profile(one) for one in past], "withheld": person_id in partly}
            nested = nouns.nested_person(person, owned)
            plans = pocket.for_phone(db, phone, person, [limb["id"] for limb, _ in owned])
            for limb in nested["limbs"]:
                limb["pocket"] = plans.get(limb["id"])
            found.append(nested | more)
    return found


@route("POST", "/enrol", ANYBODY, body=EnrolSchema)
def enrol() -> Response:
    """A one-time code for a token that is this phone's alone."""
    given = checked_body()
    token, phone = enrol_phone(given["code"], given["label"])
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
    # Why nothing is known; beside the code, which older phones have words for.
    known = kept["readiness"]["reasons"] if kept else []
    why = "quiet" if any(reason["code"] == "no-recent-days" for reason in known) else "early"
    return {"words_code": code, "change_28d_pct": change, "why": why if code == "unknown" else None}


@route("GET", "/me", PHONE)
def me() -> Response:
    """The phone's people, limbs and sockets, and the clinic's words and limits."""
    db, phone, now = clinic_db(), device(), settings().now()
    found = people_of(phone)
    own_only, withheld = devices.own_only(db, phone), devices.withheld(db, phone)
    zone = clinics.clinic_row(db)["settings"].get("zone")
    coming = visits.next_of(db, phone.person_ids, now.date().isoformat())
    # Those of the last days too: one that was called off has to leave the wearer's own calendar.
    since = (now - timedelta(days=VISITS_BACK)).date().isoformat()
    return answer(
        {
            "device": {"id": phone.id, "label": phone.label, "role": phone.role},
            "clinic": clinic_words(),
            "people": found,
            "epoch": clinics.clinic_row(db)["epoch"],
            "server_time": now.isoformat(),
            "backed_up_at": backed_up.until(settings().data_dir, registry().clinic_file(clinics.clinic_row(db)["id"])),
            "next_visits": [visit_wire.to_json(row, zone) for row in coming.values()],
            "visits": [visit_wire.to_json(row, zone) for row in visits.of_people(db, phone.person_ids, since)],
            "messages": message.for_phone(db, phone, now),
            "seen": {
                limb["id"]: {
                    "trend": _trend(limb["id"]),
                    "advice": advice.of_limb(db, limb["id"], own_only.get(limb["id"]), withheld),
                }
                for person in found
                for limb in person["limbs"]
            },
        }
    )


def _skew(client_now: Any, now: datetime) -> int | None:
    """Seconds the phone's clock is ahead of ours; None when it does not say."""
    if not isinstance(client_now, str):
        return None
    try:
        theirs = datetime.fromisoformat(client_now)
    except ValueError:
        return None
    if theirs.tzinfo is None:
        theirs = theirs.replace(tzinfo=UTC)
    return int((theirs - now).total_seconds())


def _checked_envelope(body: dict[str, Any]) -> None:
    """Raises Denied for a call that can't be read at all; nothing of it is then kept."""
    wrong: dict[str, list[str]] = {
        name: ["Plytide does not know this field."] for name in body.keys() - SYNC_BODY["properties"].keys()
    }
    if type(body.get("schema")) is not int or body["schema"] not in wire.SCHEMAS:
        known = ", ".join(str(version) for version in wire.SCHEMAS)
        wrong["schema"] = [f"This must be a version this clinic's server knows: {known}."]
    if not isinstance(body.get("checkins", []), list):
        wrong["checkins"] = ["This must be a list."]
    if not isinstance(body.get("answers", []), list):
        wrong["answers"] = ["This must be a list."]
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
    if len(body.get("answers", [])) > MOST_ANSWERS:
        words = f"At most {MOST_ANSWERS} a call."
        raise Denied(413, "too-many", words, fields={"answers": [words]})


@route("POST", "/sync", PHONE, body=SYNC_BODY)
def sync_() -> Response:
    """Keep what the phone sends, say so for each, and give what changed since its cursor."""
    body, broken = json_loosely()
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
        body.get("answers", []),
        {n: faults for (name, n), faults in broken.items() if name == "checkins"},
    )
    return answer({**given, "server_time": now.isoformat()})
