"""A check-in of a history line, read in one pass when every field is as it should be.

A caseload holds a million check-ins, and the schema that has the words for every fault takes 0.2 ms for each.
`plain` takes a twentieth of that and knows no words: what it can't vouch for it leaves to `wire.checkin`.
A test holds the two against each other.
"""

from __future__ import annotations

import math
import re
from datetime import date
from functools import lru_cache
from typing import Any

from plytide import model
from plytide.wire.checkin import MOST_SOCKS
from plytide.wire.fields import DATE, FIRST_YEAR, LAST_YEAR, OFFSET, TIME, offset_minutes

ID = re.compile(r"[A-Za-z0-9._:-]{1,64}")
KNOWN = frozenset(
    ("id", "date", "stack", "comfort", "time", "offset", "moment", "fit", "signs", "pain", "skin", "skin_checked")
    + ("hours_worn", "activity", "falls", "weight_kg", "tags", "prefilled", "replaces", "withdrawn")
)
PLIES, MAKES, MOMENTS = frozenset(model.PLIES), frozenset(model.MAKES), frozenset(model.MOMENTS)
FITS, ACTIVITIES = frozenset((*model.FITS, None)), frozenset((*model.ACTIVITIES, None))
SIGNS, TAGS, FINDINGS = frozenset(model.SIGNS), frozenset(model.TAGS), frozenset(model.FINDINGS)
SOCK_FIELDS, SKIN_FIELDS = frozenset(("ply", "make")), frozenset(("place", "finding", "redness_minutes"))


class _NotPlain(Exception):
    pass


def plain(raw: Any, limb_id: str) -> model.CheckIn | None:
    """The noun of a check-in without fault, or None when the schema must look at it."""
    if type(raw) is not dict or not raw.keys() <= KNOWN:
        return None
    get = raw.get
    try:
        id_, day, offset = raw["id"], _day(raw["date"]), get("offset")
        moment, fit, activity = get("moment", "putting_on"), get("fit"), get("activity")
        if ID.fullmatch(id_) is None or moment not in MOMENTS or fit not in FITS or activity not in ACTIVITIES:
            return None
        comfort = _whole(raw["comfort"], 10)
        replaces = get("replaces")
        if comfort is None or (replaces is not None and ID.fullmatch(replaces) is None):
            return None
        return model.CheckIn(
            id=id_,
            limb_id=limb_id,
            date=day,
            stack=_stack(raw["stack"]),
            comfort=comfort,
            time=_time(get("time")),
            offset=None if offset is None else _offset(offset),
            moment=moment,
            fit=fit,
            signs=_words(raw["signs"], SIGNS) if "signs" in raw else (),
            pain=_whole(get("pain"), 10),
            skin=_skin(raw["skin"]) if "skin" in raw else (),
            skin_checked=_flag(get("skin_checked", False)),
            hours_worn=_number(get("hours_worn"), 0, 24),
            activity=activity,
            falls=_whole(get("falls"), 20),
            weight_kg=_number(get("weight_kg"), 2, 400),
            tags=_words(raw["tags"], TAGS) if "tags" in raw else (),
            prefilled=_flag(get("prefilled", False)),
            replaces=replaces,
            withdrawn=_flag(get("withdrawn", False)),
        )
    except (_NotPlain, KeyError, TypeError):
        return None


@lru_cache(maxsize=20_000)
def _day(text: str) -> date:
    if type(text) is str and DATE.fullmatch(text):
        try:
            day = date.fromisoformat(text)
        except ValueError:
            raise _NotPlain from None
        if FIRST_YEAR <= day.year <= LAST_YEAR:
            return day
    raise _NotPlain


@lru_cache(maxsize=2000)
def _time(text: str | None) -> str | None:
    if text is None or TIME.fullmatch(text):
        return text
    raise _NotPlain


@lru_cache(maxsize=2000)
def _offset(text: str) -> int:
    if OFFSET.fullmatch(text) is None:
        raise _NotPlain
    return offset_minutes(text)


def _whole(value: Any, high: int) -> int | None:
    if value is None:
        return None
    if type(value) is int and 0 <= value <= high:
        return value
    raise _NotPlain


def _number(value: Any, low: float, high: float) -> float | None:
    if value is None:
        return None
    if type(value) in (int, float) and math.isfinite(value) and low <= value <= high:
        return value  # type: ignore[no-any-return]
    raise _NotPlain


def _flag(value: Any) -> bool:
    if value is True or value is False:
        return value
    raise _NotPlain


def _words(value: Any, known: frozenset[str]) -> tuple[str, ...]:
    if type(value) is not list or len(value) > len(known) or not known.issuperset(value):
        raise _NotPlain
    return tuple(value)


def _stack(value: Any) -> tuple[model.Sock, ...]:
    if type(value) is not list or len(value) > MOST_SOCKS:
        raise _NotPlain
    socks = []
    for one in value:
        if type(one) is not dict or not one.keys() <= SOCK_FIELDS:
            raise _NotPlain
        socks.append(_sock(one["ply"], one.get("make", "unknown")))
    return tuple(socks)


@lru_cache(maxsize=100, typed=True)
def _sock(ply: int, make: str) -> model.Sock:
    if type(ply) is not int or ply not in PLIES or make not in MAKES:
        raise _NotPlain
    return model.Sock(ply, make)


def _skin(value: Any) -> tuple[model.SkinFinding, ...]:
    if value == []:
        return ()
    if type(value) is not list or len(value) > 20:
        raise _NotPlain
    found = []
    for one in value:
        if type(one) is not dict or not one.keys() <= SKIN_FIELDS or one["finding"] not in FINDINGS:
            raise _NotPlain
        place = one["place"]
        if type(place) is not str or not place.isprintable() or not place.strip() or len(place) > 40:
            raise _NotPlain
        minutes = _number(one.get("redness_minutes"), 0, 1440)
        found.append(model.SkinFinding(place, one["finding"], minutes))
    return tuple(found)
