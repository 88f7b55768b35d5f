"""What follows from a field's kind without its words: whether a value is surely right, its one text, its noun.

The schema that has the words for every fault takes 0.2 ms a check-in; nearly every check-in has no fault, and a
caseload holds a million. What a check here can't vouch for it leaves to the schema: a kind that is not in these
tables, or that has a rule of its own, is never sure.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from functools import lru_cache
from operator import itemgetter
from typing import Any

from marshmallow import Schema, fields, missing

from plytide.wire.fields import (
    DATE,
    FIRST_YEAR,
    LAST_YEAR,
    OFFSET,
    TIME,
    Choice,
    Clock,
    Day,
    Flag,
    Name,
    Number,
    Offset,
    Several,
    Text,
    Whole,
    offset_minutes,
)

ID = re.compile(r"[A-Za-z0-9._:-]{1,64}")

Sure = Callable[[Any], Any]
Also = tuple[None, ...]
Become = Callable[[Any], Any]


def sure(field: fields.Field[Any]) -> Sure:
    """Whether a value is right for this field, without a doubt and without words; a TypeError is a doubt too."""
    if field.validators or type(field) not in _SURE:
        return _never
    return _SURE[type(field)](field, (None,) if field.allow_none else ())


def kept(field: fields.Field[Any]) -> Become | None:
    """The one form in which a right value is kept; None where it is kept as it came."""
    if isinstance(field, Number):
        return shortest
    if isinstance(field, Several) and isinstance(field.inner, fields.Nested):
        return _whole_things(field.inner.schema)
    return None


def noun(field: fields.Field[Any]) -> Become | None:
    """How a kept value becomes what the engine reads; None where it is the same."""
    if isinstance(field, Day):
        return _date
    if isinstance(field, Offset):
        return _minutes
    if isinstance(field, Several):
        return _nouns(field.inner.schema) if isinstance(field.inner, fields.Nested) else tuple
    return None


def empty(field: fields.Field[Any]) -> Any:
    """What a field says that is not sent: its default, or what its kind can say without saying anything."""
    for default in (field.dump_default, field.load_default):
        if default is not missing:
            return default
    if isinstance(field, Several):
        return []
    if isinstance(field, Flag):
        return False
    if field.allow_none:
        return None
    raise TypeError(f"{field!r} says nothing of what it is when it is not sent: give it a dump_default")


def shortest(number: float | None) -> float | None:
    """JavaScript writes 7.0 as 7: both are one text."""
    return int(number) if type(number) is float and number.is_integer() else number


# Each check is told what else is right: (None,) or nothing. Those that call no function of ours are the fast ones.


def _never(_: Any) -> bool:
    return False


def _whole(field: Whole, also: Also) -> Sure:
    low, high = field.low, field.high
    if also:
        return lambda value: value is None or (type(value) is int and low <= value <= high)
    return lambda value: type(value) is int and low <= value <= high


def _number(field: Number, also: Also) -> Sure:
    low, high = field.low, field.high  # what is not a number is not between them
    if also:
        return lambda value: value is None or (type(value) in (int, float) and low <= value <= high)
    return lambda value: type(value) in (int, float) and low <= value <= high


def _text(field: Text, also: Also) -> Sure:
    # Printable: no control characters and no lone surrogates. What has line breaks goes to the schema.
    most = field.most
    if field.least > 1:
        return _never
    return lambda value: (
        value in also or (type(value) is str and 0 < len(value) <= most and value.isprintable() and not value.isspace())
    )


def _choice(field: Choice, also: Also) -> Sure:
    if all(type(one) is str for one in field.choices):
        return frozenset((*field.choices, *also)).__contains__
    known = {(type(one), one) for one in (*field.choices, *also)}  # True is not 1
    return lambda value: (type(value), value) in known


def _flag(_: Flag, also: Also) -> Sure:
    return lambda value: type(value) is bool or value in also


def _matching(pattern: re.Pattern[str]) -> Callable[[fields.Field[Any], Also], Sure]:
    def check(_: fields.Field[Any], also: Also) -> Sure:
        return (lambda value: value is None or pattern.fullmatch(value)) if also else pattern.fullmatch

    return check


def _remembered(pattern: re.Pattern[str]) -> Callable[[fields.Field[Any], Also], Sure]:
    """Where few values come again and again."""

    def check(_: fields.Field[Any], also: Also) -> Sure:
        return lru_cache(maxsize=2000)(lambda value: value in also or pattern.fullmatch(value) is not None)

    return check


def _several(field: Several, also: Also) -> Sure:
    most, inner = field.most, field.inner
    if also:
        return _never
    if type(inner) is Choice and not inner.validators and all(type(one) is str for one in inner.choices):
        words = frozenset(inner.choices)
        return lambda value: type(value) is list and len(value) <= most and words.issuperset(value)
    each = sure(inner)
    return lambda value: type(value) is list and len(value) <= most and (not value or all(map(each, value)))


def _nested(field: fields.Nested, also: Also) -> Sure:
    """A thing of a list; the same few come again and again."""
    if also:
        return _never
    parts: dict[str, fields.Field[Any]] = field.schema.fields
    checks, silent, values, size = (
        [sure(part) for part in parts.values()],
        _silent(parts),
        itemgetter(*parts),
        len(parts),
    )

    @lru_cache(maxsize=2000, typed=True)
    def are_sure(*values: Any) -> bool:
        return all(check(one) for check, one in zip(checks, values, strict=True))

    def is_sure(thing: Any) -> bool:
        if type(thing) is not dict:
            return False
        whole = thing if len(thing) == size else {**silent, **thing}
        return len(whole) == size and are_sure(*values(whole))

    return is_sure


def _silent(parts: dict[str, fields.Field[Any]]) -> dict[str, Any]:
    """What is filled in where a thing does not say it."""
    return {name: empty(part) for name, part in parts.items() if not part.required}


@lru_cache(maxsize=20_000)
def _date(text: str) -> date:
    return date.fromisoformat(text)


@lru_cache(maxsize=2000)
def _minutes(offset: str | None) -> int | None:
    return offset_minutes(offset) if offset else None


@lru_cache(maxsize=20_000)
def _is_day(text: str) -> bool:
    if DATE.fullmatch(text) is None:
        return False
    try:
        return FIRST_YEAR <= date.fromisoformat(text).year <= LAST_YEAR
    except ValueError:
        return False


def _day(_: Day, also: Also) -> Sure:
    return _never if also else _is_day


_SURE: dict[type, Callable[[Any, Also], Sure]] = {
    Whole: _whole,
    Number: _number,
    Text: _text,
    Name: _matching(ID),
    Choice: _choice,
    Flag: _flag,
    Day: _day,
    Clock: _remembered(TIME),
    Offset: _remembered(OFFSET),
    Several: _several,
    fields.Nested: _nested,
}


def _whole_things(schema: Schema) -> Become:
    """Each thing of a list with every field there, so that a field left out and one said empty are one text."""
    silent, size = _silent(schema.fields), len(schema.fields)
    numbers = [name for name, field in schema.fields.items() if isinstance(field, Number)]

    def whole(things: list[dict[str, Any]]) -> list[dict[str, Any]]:
        full = [one if len(one) == size else {**silent, **one} for one in things]
        return [{**one, **{name: shortest(one[name]) for name in numbers}} for one in full] if numbers else full

    return whole


def _nouns(schema: Schema) -> Become:
    """A list of things as nouns: the schema's `noun`, which takes the fields in the schema's order."""
    made = lru_cache(maxsize=2000, typed=True)(schema.noun)  # type: ignore[attr-defined]
    values, size = itemgetter(*schema.fields), len(schema.fields)
    return lambda things: tuple([made(*values(one)) if len(one) == size else made(**one) for one in things])
