"""A check-in: the one definition. The only room that trusts nobody.

`CheckInSchema` says what a check-in is; all else follows from it: what is refused by field, the quick path of what
has no fault, the canonical body, the noun, the JSON that goes out, and the list the phone keeps and offers by.
`python -m plytide.wire.checkin > web/shared/checkin-fields.js` writes that list anew.

What is kept is the canonical body: the fields the phone sent, without those that say nothing, in one order,
so that the same check-in sent twice is the same text.
"""

from __future__ import annotations

import dataclasses
import json
from datetime import date, datetime, timedelta
from operator import itemgetter
from typing import Any, ClassVar, NamedTuple

import orjson
from marshmallow import ValidationError, fields

from plytide import model
from plytide.wire import quick as kinds
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
COLUMN = {"column": True}  # kept in a column of its own, not in the body


class SockSchema(Strict):
    noun: ClassVar = model.Sock
    ply = Choice(model.PLIES, required=True)
    make = Choice(model.MAKES, load_default="unknown")


class SkinSchema(Strict):
    noun: ClassVar = model.SkinFinding
    place = Text(most=40, required=True)
    finding = Choice(model.FINDINGS, required=True)
    redness_minutes = Number(0, 1440, "minutes", allow_none=True)


class CourseSchema(Strict):
    """How a place of skin is that was found on an earlier day."""

    place = Text(most=40, required=True)
    course = Choice(("gone", "better", "same", "worse"), required=True)


class CheckInSchema(Strict):
    """A new item is a line here, and a field of `model.CheckIn` of the same name where the engine reads it.

    A field that is not required says with its kind, or with `dump_default`, what it is when it is not sent.
    """

    id = Name(required=True, metadata=COLUMN)
    limb_id = Name(required=True, metadata=COLUMN)
    date = Day(required=True)
    stack = Several(fields.Nested(SockSchema), most=MOST_SOCKS, required=True)
    comfort = Whole(0, 10, required=True)
    time = Clock(allow_none=True)
    offset = Offset(allow_none=True)
    moment = Choice(model.MOMENTS, dump_default="putting_on")
    fit = Choice(model.FITS, allow_none=True)
    signs = Several(Choice(model.SIGNS), most=len(model.SIGNS))
    pain = Whole(0, 10, allow_none=True)
    skin = Several(fields.Nested(SkinSchema), most=20)
    skin_checked = Flag()
    signs_checked = Flag()
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
    written_by = Name(allow_none=True, metadata=COLUMN)
    proof = Text(most=60, allow_none=True, metadata=COLUMN)  # the server's own, that `written_by` wrote this
    photos = Several(Name(), most=10)
    healing = Several(fields.Nested(CourseSchema), most=20)
    left_off = Choice(("yes", "no", "cannot_say"), allow_none=True)  # the socket, as the phone had advised


_schema = CheckInSchema()
_FIELDS: dict[str, fields.Field[Any]] = _schema.fields
_COLUMNS = frozenset(name for name, field in _FIELDS.items() if field.metadata.get("column"))
_REQUIRED = frozenset(name for name, field in _FIELDS.items() if field.required)
# What a field of the body says when it is not sent.
EMPTY = {name: kinds.empty(field) for name, field in _FIELDS.items() if name not in _COLUMNS | _REQUIRED}
# What leaves a field out of the body; nothing does where it is required.
_SILENT: dict[str, Any] = {name: EMPTY.get(name, ...) for name in _FIELDS if name not in _COLUMNS}
_SURE = {name: kinds.sure(field) for name, field in _FIELDS.items()}
_FORMS = [(name, form) for name in _SILENT if (form := kinds.kept(_FIELDS[name]))]
# What the engine reads, by the names of the noun; anything else in a body is not for it.
_READ = {one.name: one.default for one in dataclasses.fields(model.CheckIn)}
_in_order = itemgetter(*_READ)
_REQUIRED_IN_HISTORY = _REQUIRED - {"limb_id"}  # there the limb stands once, above all check-ins
_BECOMES = [(name, become) for name in _READ if name in _FIELDS and (become := kinds.noun(_FIELDS[name]))]


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
    kept = {name: value for name, value in item.items() if name in _SILENT and value != _SILENT[name]}
    for name, form in _FORMS:
        if name in kept:
            kept[name] = form(kept[name])
    return orjson.dumps(kept, option=orjson.OPT_SORT_KEYS).decode()


class Offer(NamedTuple):
    """A check-in that can be read: what the decision to keep it needs, and the body to keep."""

    id: str
    limb_id: str
    date: str
    offset: str | None
    written_by: str | None
    body: str
    proof: str | None


def read(raw: Any) -> Offer:
    """A check-in as a phone offers it. Raises Refused with every fault by field."""
    return quick(raw) or slow(raw)


def slow(raw: Any) -> Offer:
    """As `read`, by the schema alone."""
    return _offer(check(raw))


def quick(raw: Any) -> Offer | None:
    """The offer of a check-in without fault, or None when the schema must look at it. Tests hold the two together."""
    try:
        return _offer(raw) if _is_sure(raw, _REQUIRED) else None
    except (KeyError, TypeError):
        return None


def _is_sure(raw: Any, needed: frozenset[str]) -> bool:
    if type(raw) is not dict:
        return False
    for name, value in raw.items():  # noqa: SIM110 - a generator would take twice the time
        if not _SURE[name](value):
            return False
    return raw.keys() >= needed


def _offer(item: dict[str, Any]) -> Offer:
    by, proof = item.get("written_by"), item.get("proof")
    return Offer(item["id"], item["limb_id"], item["date"], item.get("offset"), by, body_of(item), proof)


def doubt_of(day: str, offset: str | None, now: datetime, skew_seconds: int | None) -> str | None:
    """Why a check-in's day may be wrong: the phone's clock is off, or the day lies ahead of its own time zone."""
    if skew_seconds is not None and abs(skew_seconds) > 600:
        return "clock"
    if offset and date.fromisoformat(day) > (now + timedelta(minutes=offset_minutes(offset))).date():
        return "ahead"
    return None


def noun(seq: int, id_: str, limb_id: str, body: str, received_at: str | None) -> model.CheckIn:
    """A kept row as the noun the engine reads."""
    received_on = date.fromisoformat(received_at[:10]) if received_at else None
    return _noun({**orjson.loads(body), "id": id_, "limb_id": limb_id, "received_on": received_on, "seq": seq})


def plain(raw: Any, limb_id: str) -> model.CheckIn | None:
    """The noun of a history's check-in without fault, or None when the schema must look at it."""
    try:
        if "limb_id" in raw or not _is_sure(raw, _REQUIRED_IN_HISTORY):
            return None
        return _noun({**raw, "limb_id": limb_id})
    except (KeyError, TypeError):
        return None


def _noun(item: dict[str, Any]) -> model.CheckIn:
    said = {**_READ, **item}
    for name, become in _BECOMES:
        if name in item:
            said[name] = become(item[name])
    return model.CheckIn(*_in_order(said))


def out(id_: str, limb_id: str, body: str) -> dict[str, Any]:
    """A kept row as JSON, every field present."""
    return {"id": id_, "limb_id": limb_id, **EMPTY, **orjson.loads(body)}


def for_the_phone() -> str:
    """`web/shared/checkin-fields.js`: by what the phone keeps a check-in, offers it and takes it back."""
    names = "".join(f"  '{name}',\n" for name in _FIELDS)
    empty = "".join(f"  {name}: {json.dumps(value)},\n".replace('"', "'") for name, value in EMPTY.items())
    return (
        "/** A check-in's fields, and what each says when it is not sent. Made from the one definition by\n"
        " *  `python -m plytide.wire.checkin`: change it there, not here.\n */\n\n"
        f"export const FIELDS = [\n{names}];\n\n"
        f"export const EMPTY = {{\n{empty}}};\n"
    )


if __name__ == "__main__":
    print(for_the_phone(), end="")
