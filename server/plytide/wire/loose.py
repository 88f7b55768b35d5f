"""A body as a less strict writer makes it → what can be read of it, and which fields of which items can't."""

from __future__ import annotations

import json
import math
from typing import Any

#: By the name of a list and the number of an item in it: its broken fields, with what is to be said of each.
Broken = dict[tuple[str, int], dict[str, list[str]]]

HALF_A_CHARACTER = "This holds half a character, such as a part of an emoji. Write it again."
NO_NUMBER = "This is not a number."
MOST_DIGITS = 18  # more than any field takes, and still a number that can be written


def read(data: bytes) -> tuple[Any, Broken]:
    """Raises ValueError or RecursionError for what is not JSON at all."""
    raw = json.loads(data.decode("utf-8"), parse_int=lambda digits: int(digits[:MOST_DIGITS]))
    if not isinstance(raw, dict):
        raise ValueError("not an object: no part of it could be read by itself")
    broken: Broken = {}
    for name, items in raw.items():
        for n, item in enumerate(items if isinstance(items, list) else ()):
            if faults := _faults(item):
                broken[name, n] = faults
        if not isinstance(items, list) and _fault(items):
            raise ValueError("broken outside any item: whose fault it is can't be said by field")
    return _clean(raw), broken


def _faults(item: Any) -> dict[str, list[str]]:
    parts = item.items() if isinstance(item, dict) else [("item", item)]
    return {_text(name): [fault] for name, value in parts if (fault := _fault(name) or _fault(value))}


def _fault(value: Any) -> str | None:
    if isinstance(value, str):
        return HALF_A_CHARACTER if _text(value) != value else None
    if isinstance(value, float):
        return None if math.isfinite(value) else NO_NUMBER
    inner = [*value, *value.values()] if isinstance(value, dict) else value if isinstance(value, list) else ()
    return next((fault for one in inner if (fault := _fault(one))), None)


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {_text(name): _clean(one) for name, one in value.items()}
    return [_clean(one) for one in value] if isinstance(value, list) else value


def _text(text: str) -> str:
    return "".join("\ufffd" if "\ud800" <= letter <= "\udfff" else letter for letter in text)
