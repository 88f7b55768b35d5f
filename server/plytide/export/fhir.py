"""A limb → a FHIR R4 bundle (hl7.org/fhir/R4): Patient, BodyStructure, sockets as Device, one QuestionnaireResponse
a check-in, Observations, Provenance.

Codes of LOINC and SNOMED CT stand only where they were confirmed: body weight, pain from 0 to 10, lower limb
circumference. Everything else is coded in our own system, whose CodeSystem goes along in the bundle. Where a standard
code says nearly what was asked (pain: a rating said aloud, where ours is tapped) our own code comes first.
A response names its person as subject, and its limb as the answer to an item of its own: R4 has no other place for it.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import orjson

from plytide.engine.core.thickness import stack_thickness
from plytide.engine.staff_words import FINDING, LEVEL, PLACE, SIGN, word_of
from plytide.wire.checkin import noun, out

Json = dict[str, Any]
Row = Mapping[str, Any]

BASE = "https://plytide.example/fhir"  # a name, not an address: nothing is fetched from it
OWN = f"{BASE}/CodeSystem/plytide"
FORM = f"{BASE}/Questionnaire/check-in"
FORM_VERSION = "2"  # 1 did not ask which limb
LOINC, SNOMED, UCUM = "http://loinc.org", "http://snomed.info/sct", "http://unitsofmeasure.org"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"

WEIGHT = {"system": LOINC, "code": "29463-7", "display": "Body weight"}
PAIN = {"system": LOINC, "code": "72514-3", "display": "Pain severity - 0-10 verbal numeric rating [Score] - Reported"}
VITAL = {"system": CATEGORY, "code": "vital-signs", "display": "Vital Signs"}
CIRCUMFERENCE = {"system": SNOMED, "code": "413171006", "display": "Lower limb circumference"}
LOWER = ("transtibial", "transfemoral")

#: What both ask to stand beside their codes; the wording is that of HL7's own and national profiles.
NOTICE = (
    "This material contains content from LOINC (http://loinc.org). LOINC is copyright © Regenstrief Institute, Inc. and "
    "the Logical Observation Identifiers Names and Codes (LOINC) Committee and is available at no cost under the license "
    "at http://loinc.org/license. LOINC® is a registered United States trademark of Regenstrief Institute, Inc. "
    "This material includes SNOMED Clinical Terms® (SNOMED CT®) which is used by permission of SNOMED International. "
    "All rights reserved. SNOMED CT® was originally created by the College of American Pathologists. SNOMED and SNOMED CT "
    "are registered trademarks of SNOMED International. Whoever uses these codes must have the appropriate SNOMED CT "
    "Affiliate license."
)

#: Our own codes: what no standard has a confirmed code for.
CONCEPTS = {
    "socket-comfort": "Socket comfort, 0 (worst) to 10 (best), as the wearer says it",
    "stack-thickness": "Thickness of the sock stack under load, from its plies",
    "hours-worn": "Hours the prosthesis was worn that day",
    "falls": "Falls that day",
    "pain": "Pain, 0 (none) to 10 (worst), as the wearer taps it",
    "tape-panel": "Circumferences of the limb by tape, taken together",
    "distance-from-end": "Distance of a tape level from the end of the limb",
    "residual-limb": "What is left of a limb after amputation, or a limb that grew short",
    "socket": "The socket of a limb prosthesis",
    "phone": "A phone on which check-ins are written",
    "caregiver": "Somebody who writes check-ins for a wearer",
    "author": "Who or what wrote it",
}
#: The questions of a check-in that are answered with a value of their own; each is an item of the form.
ITEMS = {
    "limb": ("The limb it is about", "reference"),
    "stack": ("The socks worn, each by ply and make", "string"),
    "moment": ("When in the day", "string"),
    "comfort": ("Comfort, 0 to 10", "integer"),
    "pain": ("Pain, 0 to 10", "integer"),
    "fit": ("Loose, good or tight", "string"),
    "signs": ("Signs noticed", "string"),
    "skin": ("What was seen on the skin", "string"),
    "hours_worn": ("Hours worn", "decimal"),
    "activity": ("Activity against usual", "string"),
    "falls": ("Falls", "integer"),
    "weight_kg": ("Body weight in kg", "decimal"),
    "tags": ("What was special that day", "string"),
    "note": ("In the wearer's words", "string"),
}


def own(code: str, *standard: Json) -> Json:
    """Our own code first, then those of a standard that say nearly the same."""
    return coded(code, CONCEPTS[code], *standard)


def coded(code: str, words: str, *standard: Json) -> Json:
    return {"coding": [{"system": OWN, "code": code, "display": words}, *standard], "text": words}


def level_code(from_end_mm: float) -> tuple[str, str]:
    """(code, words) of a tape level: one of its own for each distance from the end of the limb."""
    if not from_end_mm:
        return "circumference-at-end", "Circumference of the limb at its end"
    return f"circumference-{from_end_mm:g}-mm-above-end", f"Circumference of the limb {from_end_mm:g} mm above its end"


#: Items that a standard has a code for.
STANDARD = {"pain": own("pain", PAIN)["coding"], "weight_kg": [WEIGHT]}
VALUE = {"string": "valueString", "integer": "valueInteger", "decimal": "valueDecimal", "reference": "valueReference"}


def fhir_id(name: str) -> str:
    """A name as a FHIR id: itself where it can be one, else a UUID made from it, always the same."""
    return (
        name if re.fullmatch(r"[A-Za-z0-9\-.]{1,64}", name) else str(uuid.uuid5(uuid.NAMESPACE_URL, f"{BASE}/{name}"))
    )


def ref(kind: str, name: str) -> Json:
    return {"reference": f"{kind}/{fhir_id(name)}"}


def identified(kind: str, name: str, /, **values: Any) -> Json:
    return {
        "resourceType": kind,
        "id": fhir_id(name),
        "identifier": [{"system": f"{BASE}/id", "value": name}],
        **{key: value for key, value in values.items() if value is not None and value != []},
    }


def patient(person: Row) -> Json:
    return identified("Patient", person["id"], name=[{"text": person["name"]}], birthDate=person["born_on"])


def limb_structure(limb: Row) -> Json:
    words = f"{limb['side']} residual limb, {word_of(LEVEL, limb['level'])}"
    return identified(
        "BodyStructure",
        limb["id"],
        morphology=own("residual-limb"),
        location={"text": words},
        description=words,
        patient=ref("Patient", limb["person_id"]),
    )


def mistaken(events: Sequence[Row]) -> set[str]:
    """The sockets whose making was taken out as a mistake, out of every event of their makings."""
    sockets, last = {}, {}
    for event in sorted(events, key=lambda one: one["n"]):
        if event["what"] == "finish":
            body = event["body"] if isinstance(event["body"], dict) else json.loads(event["body"])
            sockets[event["making_id"]] = body["socket_id"]
        if event["what"] in ("void", "restore"):
            last[event["making_id"]] = event["what"]
    return {socket for making, socket in sockets.items() if last.get(making) == "void"}


def socket_device(socket: Row, person_id: str, mistake: bool = False) -> list[Json]:
    """The socket, and how long it has been used."""
    device = identified(
        "Device",
        socket["id"],
        type=own("socket"),
        status="entered-in-error" if mistake else "inactive" if socket["retired_on"] else "active",
        patient=ref("Patient", person_id),
        note=[{"text": f"{socket['purpose']} socket"}],
    )
    period = {"start": socket["fitted_on"], **({"end": socket["retired_on"]} if socket["retired_on"] else {})}
    use = identified(
        "DeviceUseStatement",
        f"{socket['id']}.use",
        status="entered-in-error" if mistake else "completed" if socket["retired_on"] else "active",
        subject=ref("Patient", person_id),
        timingPeriod=period,
        device=ref("Device", socket["id"]),
        bodySite={"text": "residual limb"},
    )
    return [device, use]


def caregiver(phone: Row, person_id: str) -> Json:
    return identified(
        "RelatedPerson", f"{phone['id']}.carer", patient=ref("Patient", person_id), relationship=[own("caregiver")]
    )


def phone_device(phone: Row) -> Json:
    return identified("Device", phone["id"], type=own("phone"), status="inactive" if phone["revoked_at"] else "active")


def questionnaire() -> Json:
    return {
        "resourceType": "Questionnaire",
        "id": "check-in",
        "url": FORM,
        "version": FORM_VERSION,
        "status": "active",
        "copyright": NOTICE,
        "item": [
            {"linkId": name, "text": text, "type": kind, **({"code": STANDARD[name]} if name in STANDARD else {})}
            for name, (text, kind) in ITEMS.items()
        ],
    }


def code_system(levels: Mapping[str, str]) -> Json:
    """Our codes, with one for each tape level that the bundle holds."""
    return {
        "resourceType": "CodeSystem",
        "id": "plytide",
        "url": OWN,
        "status": "active",
        "content": "complete",
        "copyright": NOTICE,
        "concept": [{"code": code, "display": words} for code, words in {**CONCEPTS, **levels}.items()],
    }


def _item(name: str, value: Any) -> Json | None:
    if name == "stack":
        value = " + ".join(f"{sock['ply']} ply {sock['make']}" for sock in value) or "none"
    elif name == "skin":
        value = "; ".join(f"{word_of(PLACE, one['place'])}: {word_of(FINDING, one['finding'])}" for one in value)
    elif isinstance(value, list):
        value = "; ".join(word_of(SIGN, one) for one in value)
    elif name == "moment":
        value = value.replace("_", " ")
    if value is None or value == "":
        return None  # a question not answered is left out, never 0
    kind = VALUE[ITEMS[name][1]]
    return {"linkId": name, "text": ITEMS[name][0], "answer": [{kind: value}]}


def authored(entry: Json, row: Row) -> str:
    """The wearer's own date and time where they gave both and their zone, else the date."""
    if entry["time"] and entry["offset"]:
        return f"{entry['date']}T{entry['time']}:00{entry['offset']}"
    return str(entry["date"])


def response(row: Row, entry: Json, author: Json, standing: bool, person_id: str) -> Json:
    status = "completed" if not entry["replaces"] else "amended"
    answers = {**entry, "limb": ref("BodyStructure", row["limb_id"])}
    items = [item for name in ITEMS if (item := _item(name, answers[name]))]
    return {
        "resourceType": "QuestionnaireResponse",
        "id": fhir_id(row["id"]),
        "identifier": {"system": f"{BASE}/id", "value": row["id"]},
        "questionnaire": f"{FORM}|{FORM_VERSION}",
        "status": status if standing else "entered-in-error",
        "subject": ref("Patient", person_id),
        "authored": authored(entry, row),
        "author": author,
        "source": author,
        "item": items,
    }


def observation(name: str, limb: Row, code: Json, when: str, performer: Json, **value: Any) -> Json:
    return {
        "resourceType": "Observation",
        "id": fhir_id(name),
        "status": "final",
        "code": code,
        "subject": ref("Patient", limb["person_id"]),
        "effectiveDateTime": when,
        "performer": [performer],
        **value,
    }


def quantity(value: float, unit: str, code: str) -> Json:
    return {"value": value, "unit": unit, "system": UCUM, "code": code}


def observations(row: Row, entry: Json, limb: Row, author: Json) -> list[Json]:
    """One for each number of a check-in, by whoever wrote it."""
    day, source = entry["date"], {"derivedFrom": [ref("QuestionnaireResponse", row["id"])]}
    mm = stack_thickness(noun(row["seq"], row["id"], row["limb_id"], row["body"], row["received_at"]).stack)[0]
    site = {"bodySite": {"text": f"{limb['side']} residual limb"}}

    def one(name: str, code: Json, **value: Any) -> Json:
        return observation(f"{row['id']}.{name}", limb, code, day, author, **value, **source)

    found = [
        one("comfort", own("socket-comfort"), valueInteger=entry["comfort"], **site),
        one("stack", own("stack-thickness"), valueQuantity=quantity(round(mm, 2), "mm", "mm"), **site),
    ]
    if entry["pain"] is not None:
        found.append(
            one("pain", own("pain", PAIN), valueQuantity=quantity(entry["pain"], "{score}", "{score}"), **site)
        )
    if entry["hours_worn"] is not None:
        found.append(one("hours", own("hours-worn"), valueQuantity=quantity(entry["hours_worn"], "h", "h")))
    if entry["falls"] is not None:
        found.append(one("falls", own("falls"), valueInteger=entry["falls"]))
    if entry["weight_kg"] is not None:
        found.append(weight(f"{row['id']}.weight", limb, day, author, entry["weight_kg"]) | source)
    return found


def weight(name: str, limb: Row, when: str, performer: Json, kg: float) -> Json:
    code = {"coding": [WEIGHT], "text": "Body weight"}
    kilograms = quantity(kg, "kg", "kg")
    return observation(name, limb, code, when, performer, valueQuantity=kilograms, category=[{"coding": [VITAL]}])


def levels_of(row: Row) -> list[Json]:
    """The tape levels of a measurement."""
    return list(json.loads(row["levels"]))


def tape(row: Row, limb: Row, status: str) -> list[Json]:
    """A tape measurement: a panel, and a member for each level, whose code names its distance from the limb's end."""
    standard = (CIRCUMFERENCE,) if limb["level"] in LOWER else ()
    who = {"display": row["measured_by"] or "the clinic"}
    site = f"{limb['side']} residual limb"
    members = []
    for index, level in enumerate(levels_of(row)):
        code = coded(*level_code(level["from_end_mm"]), *standard)
        named = f", {level['name']}" if level.get("name") else ""
        members.append(
            observation(
                f"{row['id']}.{index}",
                limb,
                code,
                row["measured_on"],
                who,
                valueQuantity=quantity(level["circumference_mm"], "mm", "mm"),
                bodySite={"text": f"{site}{named}"},
                component=[
                    {"code": own("distance-from-end"), "valueQuantity": quantity(level["from_end_mm"], "mm", "mm")}
                ],
            )
        )
    found = list(members)
    if members:
        has = [ref("Observation", f"{row['id']}.{index}") for index in range(len(members))]
        panel = observation(f"{row['id']}.panel", limb, own("tape-panel"), row["measured_on"], who, hasMember=has)
        found.insert(0, panel | {"bodySite": {"text": site}})
    if row["weight_kg"] is not None:
        found.append(weight(f"{row['id']}.weight", limb, row["measured_on"], who, row["weight_kg"]))
    return [one | {"status": status} for one in found]


def statuses(corrections: Sequence[Row]) -> dict[str, str]:
    """id → the FHIR status of a record the clinic corrected: in error while it is out, else corrected or final."""
    found = {line["replaced_by"]: "corrected" for line in corrections if line["replaced_by"]}
    replacing = set(found)
    for line in sorted(corrections, key=lambda line: line["n"]):
        back = "corrected" if line["record_id"] in replacing else "final"
        found[line["record_id"]] = back if line["deed"] == "restore" else "entered-in-error"
    return found


def provenance(writer: str, name: str, rows: Sequence[Row], known: bool) -> Json:
    """Which phone the answers came from, and when the last of them arrived."""
    who = ref("Device", writer) if known else {"display": "a phone that is no longer known"}
    return {
        "resourceType": "Provenance",
        "id": fhir_id(name),
        "target": [ref("QuestionnaireResponse", row["id"]) for row in rows],
        "recorded": max(row["received_at"] for row in rows),
        "agent": [{"type": own("author"), "who": who}],
    }


def bundle(limb: Row, rows: Mapping[str, Sequence[Row]], now: datetime) -> Json:
    """The bundle of one limb, out of every row of its person by table."""
    person = next(row for row in rows["person"])
    mine = [row for row in rows.get("checkin", ()) if row["limb_id"] == limb["id"]]
    logged = {row["id"]: out(row["id"], row["limb_id"], row["body"]) for row in mine}
    replaced = {one["replaces"] for one in logged.values() if one["replaces"]}
    phones = {phone["id"]: phone for phone in rows.get("device", ())}
    taped = [row for row in rows.get("measurement", ()) if row["limb_id"] == limb["id"]]
    levels = dict(level_code(level["from_end_mm"]) for row in taped for level in levels_of(row))
    found = [patient(person), limb_structure(limb), code_system(levels), questionnaire()]
    mistakes = mistaken(rows.get("making_event", ()))
    for socket in rows.get("socket", ()):
        if socket["limb_id"] == limb["id"]:
            found += socket_device(socket, person["id"], socket["id"] in mistakes)
    for phone in phones.values():
        found += [phone_device(phone), *([caregiver(phone, person["id"])] if phone["role"] == "caregiver" else [])]
    for row in mine:
        phone = phones.get(row["written_by"] or "", {})
        carer = phone.get("role") == "caregiver"
        author = ref("RelatedPerson", f"{phone['id']}.carer") if carer else ref("Patient", person["id"])
        standing = row["id"] not in replaced and not logged[row["id"]]["withdrawn"]
        found.append(response(row, logged[row["id"]], author, standing, person["id"]))
        if standing:
            found += observations(row, logged[row["id"]], limb, author)
    status = statuses(rows.get("correction", ()))
    for row in taped:
        found += tape(row, limb, status.get(row["id"], "final"))
    for writer in sorted({row["written_by"] or "" for row in mine}):
        written = [row for row in mine if (row["written_by"] or "") == writer]
        found.append(provenance(writer, f"{limb['id']}.{writer[-12:]}.from", written, writer in phones))
    entries = [{"fullUrl": f"{BASE}/{one['resourceType']}/{one['id']}", "resource": one} for one in found]
    return {"resourceType": "Bundle", "type": "collection", "timestamp": now.isoformat(), "entry": entries}


def to_bytes(made: Json) -> bytes:
    return orjson.dumps(made)
