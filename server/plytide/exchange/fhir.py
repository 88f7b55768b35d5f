"""A limb → a FHIR R4 bundle (hl7.org/fhir/R4): Patient, BodyStructure, sockets as Device, one QuestionnaireResponse
a check-in, Observations, Provenance.

Codes of LOINC and SNOMED CT stand only where they were confirmed: body weight, pain from 0 to 10, lower limb
circumference. Everything else is coded in our own system, whose CodeSystem goes along in the bundle.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import orjson

from plytide.core.thickness import stack_thickness
from plytide.wire.checkin import noun, out

Json = dict[str, Any]
Row = Mapping[str, Any]

BASE = "https://plytide.example/fhir"  # a name, not an address: nothing is fetched from it
OWN = f"{BASE}/CodeSystem/plytide"
FORM = f"{BASE}/Questionnaire/check-in"
LOINC, SNOMED, UCUM = "http://loinc.org", "http://snomed.info/sct", "http://unitsofmeasure.org"
CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"

WEIGHT = {"system": LOINC, "code": "29463-7", "display": "Body weight"}
PAIN = {"system": LOINC, "code": "72514-3"}
CIRCUMFERENCE = {"system": SNOMED, "code": "413171006", "display": "Lower limb circumference"}
LOWER = ("transtibial", "transfemoral")

#: Our own codes: what no standard has a confirmed code for.
CONCEPTS = {
    "socket-comfort": "Socket comfort, 0 (worst) to 10 (best), as the wearer says it",
    "stack-thickness": "Thickness of the sock stack under load, from its plies",
    "hours-worn": "Hours the prosthesis was worn that day",
    "falls": "Falls that day",
    "circumference-above-end": "Circumference of the limb at a distance from its end",
    "distance-from-end": "Distance of a tape level from the end of the limb",
    "residual-limb": "What is left of a limb after amputation, or a limb that grew short",
    "socket": "The socket of a limb prosthesis",
    "phone": "A phone on which check-ins are written",
    "caregiver": "Somebody who writes check-ins for a wearer",
    "author": "Who or what wrote it",
}
#: The questions of a check-in that are answered with a value of their own; each is an item of the form.
ITEMS = {
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


def own(code: str) -> Json:
    return {"coding": [{"system": OWN, "code": code, "display": CONCEPTS[code]}], "text": CONCEPTS[code]}


def fhir_id(name: str) -> str:
    """A name as a FHIR id: itself where it can be one, else a UUID made from it, always the same."""
    return name if re.fullmatch(r"[A-Za-z0-9\-.]{1,64}", name) else str(uuid.uuid5(uuid.NAMESPACE_URL, f"{BASE}/{name}"))


def ref(kind: str, name: str) -> Json:
    return {"reference": f"{kind}/{fhir_id(name)}"}


def identified(kind: str, name: str, /, **said: Any) -> Json:
    return {
        "resourceType": kind,
        "id": fhir_id(name),
        "identifier": [{"system": f"{BASE}/id", "value": name}],
        **{key: value for key, value in said.items() if value is not None and value != []},
    }


def patient(person: Row) -> Json:
    return identified("Patient", person["id"], name=[{"text": person["name"]}], birthDate=person["born_on"])


def limb_structure(limb: Row) -> Json:
    words = f"{limb['side']} residual limb, {limb['level'].replace('_', ' ')}"
    return identified(
        "BodyStructure",
        limb["id"],
        morphology=own("residual-limb"),
        location={"text": words},
        description=words,
        patient=ref("Patient", limb["person_id"]),
    )


def socket_device(socket: Row, person_id: str) -> list[Json]:
    """The socket, and how long it has been used."""
    device = identified(
        "Device",
        socket["id"],
        type=own("socket"),
        status="inactive" if socket["retired_on"] else "active",
        patient=ref("Patient", person_id),
        note=[{"text": f"{socket['purpose']} socket"}],
    )
    period = {"start": socket["fitted_on"], **({"end": socket["retired_on"]} if socket["retired_on"] else {})}
    use = identified(
        "DeviceUseStatement",
        f"{socket['id']}.use",
        status="completed" if socket["retired_on"] else "active",
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
        "version": "1",
        "status": "active",
        "item": [{"linkId": name, "text": text, "type": kind} for name, (text, kind) in ITEMS.items()],
    }


def code_system() -> Json:
    return {
        "resourceType": "CodeSystem",
        "id": "plytide",
        "url": OWN,
        "status": "active",
        "content": "complete",
        "concept": [{"code": code, "display": words} for code, words in CONCEPTS.items()],
    }


def _item(name: str, value: Any) -> Json | None:
    if name == "stack":
        value = " + ".join(f"{sock['ply']} ply {sock['make']}" for sock in value) or "none"
    elif name == "skin":
        value = "; ".join(f"{one['place']}: {one['finding']}" for one in value)
    elif isinstance(value, list):
        value = " ".join(value)
    if value is None or value == "":
        return None  # a question not answered is left out, never 0
    kind = {"string": "valueString", "integer": "valueInteger", "decimal": "valueDecimal"}[ITEMS[name][1]]
    return {"linkId": name, "answer": [{kind: value}]}


def authored(said: Json, row: Row) -> str:
    """The wearer's own date and time where they gave both and their zone, else the date."""
    if said["time"] and said["offset"]:
        return f"{said['date']}T{said['time']}:00{said['offset']}"
    return str(said["date"])


def response(row: Row, said: Json, author: Json, standing: bool) -> Json:
    status = "completed" if not said["replaces"] else "amended"
    items = [item for name in ITEMS if (item := _item(name, said[name]))]
    return {
        "resourceType": "QuestionnaireResponse",
        "id": fhir_id(row["id"]),
        "identifier": {"system": f"{BASE}/id", "value": row["id"]},
        "questionnaire": f"{FORM}|1",
        "status": status if standing else "entered-in-error",
        "authored": authored(said, row),
        "author": author,
        "source": author,
        "item": items,
    }


def observation(name: str, limb: Row, code: Json, when: str, **value: Any) -> Json:
    return {
        "resourceType": "Observation",
        "id": fhir_id(name),
        "status": "final",
        "code": code,
        "subject": ref("Patient", limb["person_id"]),
        "effectiveDateTime": when,
        **value,
    }


def quantity(value: float, unit: str, code: str) -> Json:
    return {"value": value, "unit": unit, "system": UCUM, "code": code}


def observations(row: Row, said: Json, limb: Row) -> list[Json]:
    """One for each number of a check-in."""
    day, source = said["date"], {"derivedFrom": [ref("QuestionnaireResponse", row["id"])]}
    mm = stack_thickness(noun(row["seq"], row["id"], row["limb_id"], row["body"], row["received_at"]).stack)[0]
    site = {"bodySite": {"text": f"{limb['side']} residual limb"}}
    found = [
        observation(f"{row['id']}.comfort", limb, own("socket-comfort"), day, valueInteger=said["comfort"], **source, **site),
        observation(f"{row['id']}.stack", limb, own("stack-thickness"), day, valueQuantity=quantity(round(mm, 2), "mm", "mm"), **source, **site),
    ]  # fmt: skip
    if said["pain"] is not None:
        code = {"coding": [PAIN], "text": "Pain, 0 to 10"}
        found.append(observation(f"{row['id']}.pain", limb, code, day, valueQuantity=quantity(said["pain"], "{score}", "{score}"), **source, **site))  # fmt: skip
    if said["hours_worn"] is not None:
        found.append(observation(f"{row['id']}.hours", limb, own("hours-worn"), day, valueQuantity=quantity(said["hours_worn"], "h", "h"), **source))  # fmt: skip
    if said["falls"] is not None:
        found.append(observation(f"{row['id']}.falls", limb, own("falls"), day, valueInteger=said["falls"], **source))
    if said["weight_kg"] is not None:
        found.append(weight(f"{row['id']}.weight", limb, day, said["weight_kg"]) | source)
    return found


def weight(name: str, limb: Row, when: str, kg: float) -> Json:
    category = [{"coding": [{"system": CATEGORY, "code": "vital-signs"}]}]
    code = {"coding": [WEIGHT], "text": "Body weight"}
    return observation(name, limb, code, when, valueQuantity=quantity(kg, "kg", "kg"), category=category)


def tape(row: Row, limb: Row, status: str) -> list[Json]:
    """A tape measurement: one Observation a level, with its distance from the end of the limb."""
    standard = limb["level"] in LOWER
    code = {"coding": [CIRCUMFERENCE], "text": "Lower limb circumference"} if standard else own("circumference-above-end")
    found = []
    for index, level in enumerate(json.loads(row["levels"])):
        found.append(
            observation(
                f"{row['id']}.{index}",
                limb,
                code,
                row["measured_on"],
                valueQuantity=quantity(level["circumference_mm"], "mm", "mm"),
                bodySite={"text": f"{limb['side']} residual limb" + (f", {level['name']}" if level.get("name") else "")},
                component=[
                    {"code": own("distance-from-end"), "valueQuantity": quantity(level["from_end_mm"], "mm", "mm")}
                ],
            )
        )
    if row["weight_kg"] is not None:
        found.append(weight(f"{row['id']}.weight", limb, row["measured_on"], row["weight_kg"]))
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
    said = {row["id"]: out(row["id"], row["limb_id"], row["body"]) for row in mine}
    replaced = {one["replaces"] for one in said.values() if one["replaces"]}
    phones = {phone["id"]: phone for phone in rows.get("device", ())}
    found = [patient(person), limb_structure(limb), code_system(), questionnaire()]
    for socket in rows.get("socket", ()):
        if socket["limb_id"] == limb["id"]:
            found += socket_device(socket, person["id"])
    for phone in phones.values():
        found += [phone_device(phone), *([caregiver(phone, person["id"])] if phone["role"] == "caregiver" else [])]
    for row in mine:
        phone = phones.get(row["written_by"] or "", {})
        carer = phone.get("role") == "caregiver"
        author = ref("RelatedPerson", f"{phone['id']}.carer") if carer else ref("Patient", person["id"])
        standing = row["id"] not in replaced and not said[row["id"]]["withdrawn"]
        found.append(response(row, said[row["id"]], author, standing))
        if standing:
            found += observations(row, said[row["id"]], limb)
    status = statuses(rows.get("correction", ()))
    for row in rows.get("measurement", ()):
        if row["limb_id"] == limb["id"]:
            found += tape(row, limb, status.get(row["id"], "final"))
    for writer in sorted({row["written_by"] or "" for row in mine}):
        written = [row for row in mine if (row["written_by"] or "") == writer]
        found.append(provenance(writer, f"{limb['id']}.{writer[-12:]}.from", written, writer in phones))
    entries = [{"fullUrl": f"{BASE}/{one['resourceType']}/{one['id']}", "resource": one} for one in found]
    return {"resourceType": "Bundle", "type": "collection", "timestamp": now.isoformat(), "entry": entries}


def to_bytes(made: Json) -> bytes:
    return orjson.dumps(made)
