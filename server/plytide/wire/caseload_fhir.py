"""An open FHIR R4 bundle → people, limbs, sockets and tape measurements, as rows of a caseload.

Patient, BodyStructure, Device with its DeviceUseStatement, Observation (hl7.org/fhir/R4). What Plytide exports comes
back in; what wearers logged stays out, since only a phone can write it.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import orjson

from plytide import model
from plytide.wire.caseload import MOST_ROWS, Record
from plytide.wire.caseload_csv import Unread

BASE = "https://plytide.example/fhir"
Json = dict[str, Any]


def _at(value: Any, *path: Any) -> Any:
    """What stands at a path of names and places; None where there is nothing."""
    for step in path:
        if isinstance(step, str):
            value = value.get(step) if isinstance(value, dict) else None
        else:
            value = value[step] if isinstance(value, list) and len(value) > step else None
    return value


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _id(reference: Any) -> str:
    return str(_at(reference, "reference") or "").rsplit("/", 1)[-1]


def _codes(concept: Any) -> set[str]:
    return {str(_at(one, "code")) for one in _list(_at(concept, "coding"))}


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def patient(one: Json) -> tuple[Json, str | None]:
    """A person's values, and what a Plytide called them."""
    name = _at(one, "name", 0, "text")
    if not name:
        name = " ".join(
            str(part) for part in [*_list(_at(one, "name", 0, "given")), _at(one, "name", 0, "family")] if part
        )
    values: Json = {"name": name, "born_on": _at(one, "birthDate")}
    source = None
    for identifier in _list(one.get("identifier")):
        if _at(identifier, "system") == f"{BASE}/id":
            source = _text(_at(identifier, "value")) or None
        else:
            values.setdefault("record_number", _at(identifier, "value"))
    phones = [_at(t, "value") for t in _list(one.get("telecom")) if _at(t, "system") == "phone"]
    if phones:
        values["telephones"] = [{"number": phone} for phone in phones]
    return {key: value for key, value in values.items() if value is not None}, source


def limb(words: str, levels: Mapping[str, str]) -> Json:
    """Side and level out of words such as "left residual limb, below the knee"."""
    low = words.lower()
    side = [one for one in model.SIDES if re.search(rf"\b{one}\b", low)]
    level = [code for code, name in levels.items() if low.endswith(name.lower()) or code.replace("_", " ") in low]
    return {key: found[0] for key, found in (("side", side), ("level", level)) if len(found) == 1}


def _mm(quantity: Any) -> Any:
    scale = {"mm": 1, "cm": 10, "[in_i]": 25.4, "in": 25.4}.get(_at(quantity, "code") or _at(quantity, "unit"))
    value = _at(quantity, "value")
    return round(value * scale, 3) if scale and type(value) in (int, float) else None


def records(data: bytes, levels: Mapping[str, str]) -> tuple[list[tuple[Record, str | None, dict[str, str]]], int]:
    """(values, source, faults) for each person, limb, socket and day of the tape, and how many answers stayed out.

    Raises Unread.
    """
    try:
        made = orjson.loads(data)
    except orjson.JSONDecodeError:
        raise Unread("file", "This is not JSON, or it was cut short.") from None
    entries = _at(made, "entry")
    if _at(made, "resourceType") != "Bundle" or not isinstance(entries, list):
        raise Unread("file", "This is not a FHIR bundle.")
    by: dict[str, list[Json]] = defaultdict(list)
    for entry in entries:
        one = _at(entry, "resource")
        if isinstance(one, dict):
            by[str(one.get("resourceType"))].append(one)
    if not by["Patient"]:
        raise Unread("file", "There is no Patient in this bundle.")
    found: list[tuple[Record, str | None, dict[str, str]]] = []
    uses = {_id(one.get("device")): one for one in by["DeviceUseStatement"]}
    for person in by["Patient"]:
        pid = str(person.get("id"))
        values, source = patient(person)
        own = [one for one in by["BodyStructure"] if _id(one.get("patient")) == pid]
        limbs = [limb(_text(_at(one, "description")) or _text(_at(one, "location", "text")), levels) for one in own]
        found += [({"person": values, "limb": one}, source, {}) for one in limbs] or [({"person": values}, source, {})]
        for device in by["Device"]:
            if _id(device.get("patient")) != pid or "socket" not in _codes(device.get("type")):
                continue
            period = _at(uses.get(str(device.get("id"))), "timingPeriod")
            purpose = next((p for p in model.PURPOSES if p in _text(_at(device, "note", 0, "text")).lower()), None)
            socket = {"fitted_on": _at(period, "start"), "retired_on": _at(period, "end"), "purpose": purpose}
            record = {"person": values, "socket": {key: value for key, value in socket.items() if value}}
            fault = {} if len(limbs) == 1 else {"Device": "It is not said which limb this socket is for."}
            found.append((record | ({"limb": limbs[0]} if len(limbs) == 1 else {}), source, fault))
        found += [(one, source, fault) for one, fault in _tapes(by["Observation"], pid, values, limbs)]
    if len(found) > MOST_ROWS:
        raise Unread("file", f"This file has more than {MOST_ROWS} rows. Divide it.")
    return found, len(by["QuestionnaireResponse"])


def _tapes(observations: list[Json], pid: str, person: Json, limbs: list[Json]) -> list[tuple[Record, dict[str, str]]]:
    """A person's tape measurements, each day and panel of a limb together."""
    panels = {_id(member): str(one.get("id")) for one in observations for member in _list(one.get("hasMember"))}
    days: dict[tuple[str, str, str], Json] = {}
    weights: dict[str, Any] = {}
    for one in observations:
        if _id(one.get("subject")) != pid or one.get("status") == "entered-in-error" or one.get("derivedFrom"):
            continue
        when, codes = _text(one.get("effectiveDateTime"))[:10], _codes(one.get("code"))
        for part in _list(one.get("component")):
            if "distance-from-end" in _codes(_at(part, "code")):
                level = {
                    "from_end_mm": _mm(_at(part, "valueQuantity")),
                    "circumference_mm": _mm(_at(one, "valueQuantity")),
                }
                site = _text(_at(one, "bodySite", "text")).split(", ", 1)
                if len(site) > 1:
                    level["name"] = site[1]
                by = _text(_at(one, "performer", 0, "display"))
                key = (when, site[0], panels.get(str(one.get("id")), ""))
                tape = days.setdefault(key, {"on": when, "levels": []} | ({"measured_by": by} if by else {}))
                tape["levels"].append(level)
        if "29463-7" in codes and _at(one, "valueQuantity", "code") == "kg":
            weights[str(one.get("id")).removesuffix(".weight")] = _at(one, "valueQuantity", "value")
    made: list[tuple[Record, dict[str, str]]] = []
    for (_, site_words, panel), tape in days.items():
        if (kg := weights.get(panel.removesuffix(".panel"))) is not None:
            tape["weight_kg"] = kg
        side = limb(site_words, {}).get("side")
        own = [one for one in limbs if side is None or one.get("side") == side]
        fault = {} if len(own) == 1 else {"Observation": "It is not said which limb was measured."}
        made.append(({"person": person, "measurement": tape} | ({"limb": own[0]} if len(own) == 1 else {}), fault))
    return made
