"""The kinds of value on the wire, each with words a user understands. Nothing is coerced: "7" is not 7."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields, validate

REQUIRED = "This is needed."
UNKNOWN = "Plytide does not know this field."
DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
TIME = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
# Beyond these no date of a wearer can lie, and arithmetic on dates can't overflow.
FIRST_YEAR, LAST_YEAR = 1900, 2199
OFFSET = re.compile(r"([+-])(0\d|1[0-4]):([0-5]\d)")


class Strict(Schema):
    """A schema that refuses fields it does not know."""

    class Meta:
        unknown = RAISE

    error_messages = {"unknown": UNKNOWN, "type": "This must be an object with named fields."}


class _Field(fields.Field[Any]):
    default_error_messages = {
        "required": REQUIRED,
        "null": "This can't be empty.",
        "validator_failed": "This is not right.",
    }


class Whole(_Field):
    """A whole number from `low` to `high`."""

    def __init__(self, low: int, high: int, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.low, self.high = low, high

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> int:
        if type(value) is not int or not self.low <= value <= self.high:
            raise ValidationError(f"This must be a whole number from {self.low} to {self.high}.")
        return value


class Number(_Field):
    """A number from `low` to `high`, in `unit`."""

    def __init__(self, low: float, high: float, unit: str = "", **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.low, self.high, self.unit = low, high, unit

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> float:
        if type(value) not in (int, float) or not math.isfinite(value) or not self.low <= value <= self.high:
            unit = f" {self.unit}" if self.unit else ""
            raise ValidationError(f"This must be a number from {self.low:g} to {self.high:g}{unit}.")
        return float(value) if type(value) is float else value


class Text(_Field):
    """Text of `least` to `most` characters, without control characters."""

    def __init__(self, most: int, least: int = 1, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.most, self.least = most, least

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str):
            raise ValidationError("This must be text.")
        if "\0" in value or any(0xD800 <= ord(letter) <= 0xDFFF for letter in value):
            raise ValidationError("This holds characters that can't be kept.")
        if not self.least <= len(value.strip()) or len(value) > self.most:
            raise ValidationError(f"This must have {self.least} to {self.most} characters.")
        return value


class Name(Text):
    """An id: letters, digits, dot, dash, underscore or colon."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(most=64, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str) or not re.fullmatch(r"[A-Za-z0-9._:-]{1,64}", value):
            raise ValidationError("This must be an id of at most 64 letters, digits and dashes.")
        return value


class Mail(Text):
    """A mail address in plain letters, of a machine whose name has a dot."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(most=200, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        said = super()._deserialize(value, attr, data, **kwargs)
        words = "This must be a mail address such as name@clinic.example."
        if not said.isascii() or "." not in said.rpartition("@")[2].strip("."):
            raise ValidationError(words)
        validate.Email(error=words)(said)
        return said


class Choice(_Field):
    """One of a fixed set of words or numbers."""

    def __init__(self, choices: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.choices = choices

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, str | int) or value not in self.choices:
            raise ValidationError(f"This must be one of: {', '.join(str(choice) for choice in self.choices)}.")
        return value


class Flag(_Field):
    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> bool:
        if not isinstance(value, bool):
            raise ValidationError("This must be true or false.")
        return value


class Day(_Field):
    """A calendar date, kept as YYYY-MM-DD text."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if isinstance(value, str) and DATE.fullmatch(value):
            try:
                if FIRST_YEAR <= date.fromisoformat(value).year <= LAST_YEAR:
                    return value
            except ValueError:
                pass
        raise ValidationError("This must be a date such as 2026-05-31.")


class Clock(_Field):
    """A time of day, HH:MM."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str) or not TIME.fullmatch(value):
            raise ValidationError("This must be a time such as 07:40.")
        return value


class Offset(_Field):
    """The clock's distance from UTC, ±HH:MM up to 14 hours."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str) or not OFFSET.fullmatch(value):
            raise ValidationError("This must be a distance from UTC such as +02:00.")
        return value


class Several(fields.List[Any]):
    """A list of at most `most` values."""

    default_error_messages = {
        "required": REQUIRED,
        "null": "This can't be empty.",
        "invalid": "This must be a list.",
    }

    def __init__(self, inner: Any, most: int, **kwargs: Any) -> None:
        super().__init__(inner, **kwargs)
        self.most = most

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> list[Any]:
        if not isinstance(value, list):
            raise ValidationError("This must be a list.")
        if len(value) > self.most:
            raise ValidationError(f"This can hold at most {self.most}.")
        return super()._deserialize(value, attr, data, **kwargs) or []


def offset_minutes(offset: str) -> int:
    """Minutes east of UTC of "+02:00"."""
    sign = -1 if offset[0] == "-" else 1
    return sign * (int(offset[1:3]) * 60 + int(offset[4:6]))


def by_field(errors: Any, prefix: str = "") -> dict[str, list[str]]:
    """Marshmallow's nested messages as one flat table: {"stack[0].ply": ["…"]}."""
    if isinstance(errors, list):
        return {prefix: [str(message) for message in errors]}
    flat: dict[str, list[str]] = {}
    for key, inner in errors.items():
        if isinstance(key, int):
            name = f"{prefix}[{key}]"
        elif key == "_schema":
            name = prefix or "body"
        else:
            name = f"{prefix}.{key}" if prefix else str(key)
        for field, messages in by_field(inner, name).items():
            flat.setdefault(field, []).extend(messages)
    return flat
