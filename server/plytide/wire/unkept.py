"""What an entry that can't be kept says of danger: read part by part, so that one bad field hides no other.

Read towards the danger: a number beyond its scale counts as the end of the scale, a finding without a place as one
whose place was not said. What says nothing of danger is not read at all.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeGuard

import orjson

from plytide import model
from plytide.wire import checkin as wire
from plytide.wire import quick

NOT_SAID = "not_said"
COMFORT_UNKNOWN = 10  # of a body that must have one: no rule reads it
LACKING = frozenset({"stack", "comfort"})
NUMBER = re.compile(r"-?[0-9]{1,6}(\.[0-9]{1,6})?")
_SCALES = {"pain": 10, "comfort": 10, "falls": 20}


def limb_of(raw: Any) -> str | None:
    """The limb an item is for, where that can be read."""
    given = raw.get("limb_id") if isinstance(raw, dict) else None
    return given if isinstance(given, str) else None


def id_of(raw: Any) -> str | None:
    """The item's own id, where it is one."""
    given = raw.get("id") if isinstance(raw, dict) else None
    return given if isinstance(given, str) and quick.ID.fullmatch(given) else None


def begun(raw: Any, errors: Mapping[str, Any]) -> bool:
    """Whether this is an entry that was begun and not saved: the phone sends what was tapped, without its socks."""
    return isinstance(raw, dict) and "stack" not in raw and set(errors) <= LACKING


def said(raw: Any, errors: dict[str, list[str]], now: datetime) -> str | None:
    """The canonical body of what an item says of danger; None where it says nothing, or takes an entry back.

    A day that was refused is not believed: the day of arrival counts.
    """
    if not isinstance(raw, dict) or raw.get("withdrawn") is True:
        return None
    found: dict[str, Any] = {}
    if signs := _known(raw.get("signs"), model.SIGNS):
        found["signs"] = signs
    if skin := [one for each in _items(raw.get("skin")) if (one := _finding(each))]:
        found["skin"] = skin
    for name, most in _SCALES.items():
        value = _number(raw.get(name))
        if value is not None:
            # Between two steps of a scale: the one towards the danger.
            whole = math.floor(value) if name == "comfort" else math.ceil(value)
            found[name] = min(max(whole, 0), most)
    weight = raw.get("weight_kg")
    if type(weight) in (int, float) and "weight_kg" not in errors:
        found["weight_kg"] = weight
    if not found:
        return None
    day = raw.get("date")
    good = isinstance(day, str) and "date" not in errors
    body = {"comfort": COMFORT_UNKNOWN, "stack": [], **found, "date": day if good else now.date().isoformat()}
    if raw.get("moment") in model.MOMENTS:
        body["moment"] = raw["moment"]
    return orjson.dumps(body, option=orjson.OPT_SORT_KEYS).decode()


def noun(id_: str, limb_id: str, body: str, faults: dict[str, list[str]], received_at: str) -> model.Unkept:
    """A kept row as the noun the engine reads."""
    read = wire.noun(0, id_, limb_id, body, received_at)
    read = replace(read, written_at=received_at)  # said on the phone by then
    return model.Unkept(read, tuple(sorted({name.partition("[")[0].partition(".")[0] for name in faults})))


def _items(value: Any) -> list[Any]:
    """Of a list; what stands where a list should, by itself, is one of one."""
    return value[:50] if isinstance(value, list) else [value]


def _number(value: Any) -> int | float | None:
    """A number, also one that came as a text."""
    if isinstance(value, str) and NUMBER.fullmatch(value.strip()):
        return float(value)
    return value if _is_number(value) and math.isfinite(value) else None


def _code(value: Any, codes: tuple[str, ...]) -> str | None:
    """The code a text means, however it was written: capitals, spaces around it, a hyphen for the line."""
    given = value.strip().lower().replace("-", "_").replace(" ", "_") if isinstance(value, str) else None
    return given if given in codes else None


def _known(value: Any, codes: tuple[str, ...]) -> list[str]:
    if isinstance(value, dict):  # {"fever": true}
        value = [name for name, said in value.items() if said]
    return list(dict.fromkeys(code for one in _items(value) if (code := _code(one, codes))))


def _finding(one: Any) -> dict[str, Any] | None:
    if isinstance(one, str):
        one = {"finding": one}
    finding = _code(one.get("finding"), model.FINDINGS) if isinstance(one, dict) else None
    if finding is None:
        return None
    place, minutes = one.get("place"), _number(one.get("redness_minutes"))
    return {
        "place": place if isinstance(place, str) and 0 < len(place) <= 40 and place.isprintable() else NOT_SAID,
        "finding": finding,
        "redness_minutes": min(minutes, 1440) if minutes is not None and minutes >= 0 else None,
    }


def _is_number(value: Any) -> TypeGuard[int | float]:
    return type(value) in (int, float)
