"""A check-in: JSON ↔ noun. The only room that trusts nobody.

What is kept is the canonical body: the fields the phone sent, without those that say nothing, in one order,
so that the same check-in sent twice is the same text. `wire.offer` reads what phones send.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import orjson
from marshmallow import ValidationError, fields

from plytide import model
from plytide.wire.fields import (
    Choice,
    Clock,
    Day,
    Flag,
    Name,
    Number,
    Offset,
    Several,
    Strict,
    Text,
    Whole,
    by_field,
    offset_minutes,
)

SCHEMAS = (1,)  # every version ever published; each stays accepted for ever
MOST_SOCKS = 12
APART = ("id", "limb_id", "written_by")  # kept in columns of their own
# What a field says when it is not sent.
EMPTY: dict[str, Any] = {
    "time": None, "offset": None, "moment": "putting_on", "fit": None, "signs": [], "pain": None, "skin": [],
    "skin_checked": False, "hours_worn": None, "activity": None, "falls": None, "weight_kg": None, "tags": [],
    "note": None, "prefilled": False, "replaces": None, "withdrawn": False, "written_at": None, "zone": None,
    "photos": [],
}  # fmt: skip


class SockSchema(Strict):
    ply = Choice(model.PLIES, required=True)
    make = Choice(model.MAKES, load_default="unknown")


class SkinSchema(Strict):
    place = Text(most=40, required=True)
    finding = Choice(model.FINDINGS, required=True)
    redness_minutes = Number(0, 1440, "minutes", allow_none=True)


class CheckInSchema(Strict):
    id = Name(required=True)
    limb_id = Name(required=True)
    date = Day(required=True)
    stack = Several(fields.Nested(SockSchema), most=MOST_SOCKS, required=True)
    comfort = Whole(0, 10, required=True)
    time = Clock(allow_none=True)
    offset = Offset(allow_none=True)
    moment = Choice(model.MOMENTS)
    fit = Choice(model.FITS, allow_none=True)
    signs = Several(Choice(model.SIGNS), most=len(model.SIGNS))
    pain = Whole(0, 10, allow_none=True)
    skin = Several(fields.Nested(SkinSchema), most=20)
    skin_checked = Flag()
    hours_worn = Number(0, 24, "hours", allow_none=True)
    activity = Choice(model.ACTIVITIES, allow_none=True)
    falls = Whole(0, 20, allow_none=True)
    weight_kg = Number(2, 400, "kg", allow_none=True)
    tags = Several(Choice(model.TAGS), most=len(model.TAGS))
    note = Text(most=1000, least=0, allow_none=True)
    prefilled = Flag()
    replaces = Name(allow_none=True)
    withdrawn = Flag()
    written_at = Text(most=40, allow_none=True)
    zone = Text(most=64, allow_none=True)
    written_by = Name(allow_none=True)
    photos = Several(Name(), most=10)


_schema = CheckInSchema()


class Refused(Exception):
    """wire: this item can't be taken; `errors` says why, by field."""

    def __init__(self, errors: dict[str, list[str]]) -> None:
        super().__init__(errors)
        self.errors = errors


def latest_date(now: datetime) -> date:
    """The last calendar date that can be today for a phone whose clock is at most a day fast."""
    return (now + timedelta(days=1)).date()


def past_everywhere(now: datetime) -> date:
    """The last calendar date that has begun in every time zone: a check-in of it is ahead of nobody."""
    return (now - timedelta(hours=15)).date()


def check(raw: Any) -> dict[str, Any]:
    """A check-in whose every field can be read. Raises Refused with every fault by field."""
    try:
        item: dict[str, Any] = _schema.load(raw)
    except ValidationError as error:
        raise Refused(by_field(error.messages)) from error
    return item


def body_of(item: dict[str, Any]) -> str:
    """The canonical text of a checked check-in.

    A phone that offers again what it had from us sends every field, and JavaScript writes 7.0 as 7: both must
    come to the same text as the first time.
    """
    kept = {
        key: value
        for key, value in item.items()
        if key not in APART and (key == "stack" or not (value is None or value is False or value == []))
    }
    if kept.get("moment") == EMPTY["moment"]:
        del kept["moment"]
    for name in ("hours_worn", "weight_kg"):
        if name in kept:
            kept[name] = _shortest(kept[name])
    if "skin" in kept:
        kept["skin"] = [{**found, "redness_minutes": _shortest(found.get("redness_minutes"))} for found in kept["skin"]]
    return orjson.dumps(kept, option=orjson.OPT_SORT_KEYS).decode()


def _shortest(number: float | None) -> float | None:
    return int(number) if isinstance(number, float) and number.is_integer() else number


def doubt_of(day: str, offset: str | None, now: datetime, skew_seconds: int | None) -> str | None:
    """Why a check-in's day may be wrong: the phone's clock is off, or the day lies ahead of its own time zone."""
    if skew_seconds is not None and abs(skew_seconds) > 600:
        return "clock"
    if offset and date.fromisoformat(day) > (now + timedelta(minutes=offset_minutes(offset))).date():
        return "ahead"
    return None


def noun(seq: int, id_: str, limb_id: str, body: str, received_at: str | None) -> model.CheckIn:
    """A kept row as the noun the engine reads."""
    item: dict[str, Any] = orjson.loads(body)
    offset = item.get("offset")
    return model.CheckIn(
        id=id_,
        limb_id=limb_id,
        date=date.fromisoformat(item["date"]),
        stack=tuple(model.Sock(sock["ply"], sock["make"]) for sock in item["stack"]),
        comfort=item["comfort"],
        time=item.get("time"),
        offset=offset_minutes(offset) if offset else None,
        moment=item.get("moment", "putting_on"),
        fit=item.get("fit"),
        signs=tuple(item.get("signs", ())),
        pain=item.get("pain"),
        skin=tuple(
            model.SkinFinding(found["place"], found["finding"], found.get("redness_minutes"))
            for found in item.get("skin", ())
        ),
        skin_checked=item.get("skin_checked", False),
        hours_worn=item.get("hours_worn"),
        activity=item.get("activity"),
        falls=item.get("falls"),
        weight_kg=item.get("weight_kg"),
        tags=tuple(item.get("tags", ())),
        note=item.get("note"),
        prefilled=item.get("prefilled", False),
        replaces=item.get("replaces"),
        withdrawn=item.get("withdrawn", False),
        received_on=date.fromisoformat(received_at[:10]) if received_at else None,
        seq=seq,
    )


def out(id_: str, limb_id: str, body: str) -> dict[str, Any]:
    """A kept row as JSON, every field present."""
    return {"id": id_, "limb_id": limb_id, **EMPTY, **orjson.loads(body)}
