"""An assessment as the server keeps it for itself, to the last digit: noun → text → the same noun.

Not what the API says of it, which is rounded and leaves the chart out (`wire/history.py`). Both ways follow from the
noun's own fields, so that one added there is kept without a line here. What was kept by an older shape is not guessed
at: it can always be made again.
"""

from __future__ import annotations

import re
import types
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

import orjson

from plytide.model import Assessment

DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


class OtherShape(ValueError):
    """What was kept does not have the fields that an assessment has now."""


def to_text(found: Assessment) -> str:
    return orjson.dumps(found).decode()


def from_text(kept: str) -> Assessment:
    """Raises OtherShape."""
    try:
        found: Assessment = _reader(Assessment)(orjson.loads(kept))
    except (AttributeError, TypeError, ValueError) as error:
        raise OtherShape(str(error)) from error
    return found


Read = Callable[[Any], Any]


@cache
def _reader(kind: Any) -> Read:
    """How a value of a field's type comes back from JSON."""
    if is_dataclass(kind):
        return _noun_reader(kind)
    if kind is date:
        return date.fromisoformat
    origin, args = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        kinds = [arg for arg in args if arg is not type(None)]
        if len(kinds) > 1:  # a value of a sentence: a number, a code or a day
            return _day_or_as_it_is if date in kinds else _as_it_is
        read = _reader(kinds[0])
        return lambda value: None if value is None else read(value)
    if origin is tuple and args[-1] is Ellipsis:
        read_one = _reader(args[0])
        return lambda values: tuple(map(read_one, values))
    if origin is tuple:
        readers = [_reader(arg) for arg in args]
        return lambda values: tuple(read(value) for read, value in zip(readers, values, strict=True))
    return _as_it_is


def _noun_reader(kind: Any) -> Read:
    types_of = get_type_hints(kind)
    names = tuple(each.name for each in fields(kind))
    readers = [_reader(types_of[name]) for name in names]
    plain = all(read_one is _as_it_is for read_one in readers)  # an estimate is: there are a thousand in a chart

    def read(values: dict[str, Any]) -> Any:
        if tuple(values) != names:
            raise ValueError(f"{kind.__name__} has other fields now")
        if plain:
            return kind(*values.values())
        return kind(*(read_one(value) for read_one, value in zip(readers, values.values(), strict=True)))

    return read


def _as_it_is(value: Any) -> Any:
    return value


def _day_or_as_it_is(value: Any) -> Any:
    """JSON has no days and no tuples: a text that reads as a day was one, since no code looks like that."""
    if isinstance(value, list):
        return tuple(value)
    return date.fromisoformat(value) if isinstance(value, str) and DAY.fullmatch(value) else value
