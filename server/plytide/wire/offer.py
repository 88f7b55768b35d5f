"""A check-in as a phone offers it: checked, and in the canonical text that is kept.

The schema that has the words for every fault takes 0.2 ms a check-in; nearly every check-in has no fault. `quick`
takes a fiftieth of that and knows no words: what it can't vouch for it leaves to the schema. A test holds the two
against each other.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import date
from functools import lru_cache
from typing import Any, NamedTuple

from plytide import model
from plytide.wire import checkin as wire
from plytide.wire.fields import DATE, FIRST_YEAR, LAST_YEAR, OFFSET, TIME

ID = re.compile(r"[A-Za-z0-9._:-]{1,64}")


class Offer(NamedTuple):
    """A check-in that can be read: what the decision to keep it needs, and the body to keep."""

    id: str
    limb_id: str
    date: str
    offset: str | None
    written_by: str | None
    body: str


def read(raw: Any) -> Offer:
    """A check-in whose every field can be read. Raises wire.checkin.Refused with every fault by field."""
    return quick(raw) or slow(raw)


def slow(raw: Any) -> Offer:
    """As `read`, by the schema alone."""
    return _offer(wire.check(raw))


def _offer(item: dict[str, Any]) -> Offer:
    return Offer(
        item["id"],
        item["limb_id"],
        item["date"],
        item.get("offset"),
        item.get("written_by"),
        wire.body_of(item),
    )


def quick(raw: Any) -> Offer | None:
    """The offer of a check-in without fault, or None when the schema must look at it."""
    if type(raw) is not dict:
        return None
    try:
        for name, value in raw.items():
            if not SURE[name](value):
                return None
        socks = [sock if "make" in sock else {**sock, "make": "unknown"} for sock in raw["stack"] if _sock(sock)]
        if len(socks) != len(raw["stack"]) or "comfort" not in raw:
            return None
        return _offer({**raw, "stack": socks})
    except (KeyError, TypeError):
        return None


def _id(value: Any) -> bool:
    return type(value) is str and ID.fullmatch(value) is not None


def _whole(high: int) -> Callable[[Any], bool]:
    return lambda value: type(value) is int and 0 <= value <= high


def _number(low: float, high: float) -> Callable[[Any], bool]:
    return lambda value: type(value) in (int, float) and math.isfinite(value) and low <= value <= high


def _text(most: int) -> Callable[[Any], bool]:
    # Printable: no control characters and no lone surrogates. What has line breaks goes to the schema.
    return lambda value: type(value) is str and 0 < len(value) <= most and value.isprintable() and not value.isspace()


def _word(known: tuple[str, ...]) -> Callable[[Any], bool]:
    words = frozenset(known)
    return lambda value: type(value) is str and value in words


def _words(known: tuple[str, ...]) -> Callable[[Any], bool]:
    words = frozenset(known)
    return lambda value: type(value) is list and len(value) <= len(words) and words.issuperset(value)


def _or_none(sure: Callable[[Any], bool]) -> Callable[[Any], bool]:
    return lambda value: value is None or sure(value)


def _flag(value: Any) -> bool:
    return value is True or value is False


@lru_cache(maxsize=20_000)
def _is_day(text: str) -> bool:
    if DATE.fullmatch(text) is None:
        return False
    try:
        return FIRST_YEAR <= date.fromisoformat(text).year <= LAST_YEAR
    except ValueError:
        return False


def _matching(pattern: re.Pattern[str]) -> Callable[[Any], bool]:
    return lambda value: type(value) is str and pattern.fullmatch(value) is not None


def _sock(value: Any) -> bool:
    if type(value) is not dict or type(value.get("ply")) is not int or value["ply"] not in model.PLIES:
        return False
    return len(value) == 1 or (len(value) == 2 and type(value.get("make")) is str and value["make"] in model.MAKES)


PLACE, FINDING, MINUTES = _text(40), _word(model.FINDINGS), _or_none(_number(0, 1440))
SKIN_FIELDS = frozenset(("place", "finding", "redness_minutes"))


def _skin(value: Any) -> bool:
    return (
        type(value) is list
        and len(value) <= 20
        and all(
            type(one) is dict
            and one.keys() <= SKIN_FIELDS
            and PLACE(one["place"])
            and FINDING(one["finding"])
            and MINUTES(one.get("redness_minutes"))
            for one in value
        )
    )


SURE: dict[str, Callable[[Any], bool]] = {
    "id": _id,
    "limb_id": _id,
    "date": lambda value: type(value) is str and _is_day(value),
    "stack": lambda value: type(value) is list and len(value) <= wire.MOST_SOCKS,
    "comfort": _whole(10),
    "time": _or_none(_matching(TIME)),
    "offset": _or_none(_matching(OFFSET)),
    "moment": _word(model.MOMENTS),
    "fit": _or_none(_word(model.FITS)),
    "signs": _words(model.SIGNS),
    "pain": _or_none(_whole(10)),
    "skin": _skin,
    "skin_checked": _flag,
    "hours_worn": _or_none(_number(0, 24)),
    "activity": _or_none(_word(model.ACTIVITIES)),
    "falls": _or_none(_whole(20)),
    "weight_kg": _or_none(_number(2, 400)),
    "tags": _words(model.TAGS),
    "note": _or_none(_text(1000)),
    "prefilled": _flag,
    "replaces": _or_none(_id),
    "withdrawn": _flag,
    "written_at": _or_none(_text(40)),
    "zone": _or_none(_text(64)),
    "written_by": _or_none(_id),
    "photos": lambda value: type(value) is list and len(value) <= 10 and all(map(_id, value)),
}
