"""The kinds of value on the wire, each with words a user understands. Nothing is coerced: "7" is not 7."""

from __future__ import annotations

import base64
import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime
from typing import Any

from marshmallow import RAISE, Schema, ValidationError, fields

from plytide.wire.zone import zone_named

REQUIRED = "This is needed."
UNKNOWN = "Plytide does not know this field."
DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
INSTANT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,9})?)?(Z|[+-]\d{2}:\d{2})", re.ASCII)
TIME = re.compile(r"([01]\d|2[0-3]):[0-5]\d")
# Beyond these no date of a wearer can lie, and arithmetic on dates can't overflow.
FIRST_YEAR, LAST_YEAR = 1900, 2199
TELEPHONE = frozenset("0123456789 +()-./")
FEWEST_DIGITS = 3  # an emergency number has three
MOST_DIGITS = 20  # 15 of ITU-T E.164 (from memory), with what is dialled before them: judgement
TURNS: re.Pattern[str] = re.compile("[\u202a-\u202e\u2066-\u2069]")
OFFSET = re.compile(r"([+-])(0\d|1[0-4]):([0-5]\d)")


class Strict(Schema):
    """A schema that refuses fields it does not know."""

    class Meta:
        unknown = RAISE

    error_messages = {"unknown": UNKNOWN, "type": "This must be an object with named fields."}


class Changeable(Strict):
    """A schema for what two may change at once: `was` holds what the form showed of the fields it changes."""

    was = fields.Dict(keys=fields.String(), values=fields.Raw(allow_none=True))


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


def plain_order(text: str) -> str:
    """Without the characters that turn round the order in which others would read what follows.

    U+202A to U+202E and U+2066 to U+2069: no keyboard types them. The marks U+200E and U+200F stay: Arabic needs them.
    """
    return TURNS.sub("", text)


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
        text = plain_order(value)
        if not self.least <= len(text.strip()) or len(text) > self.most:
            raise ValidationError(f"This must have {self.least} to {self.most} characters.")
        return text


class Name(Text):
    """An id: letters, digits, dot, dash, underscore or colon."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(most=64, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str) or not re.fullmatch(r"[A-Za-z0-9._:-]{1,64}", value):
            raise ValidationError("This must be an id of at most 64 letters, digits and dashes.")
        return value


# Dots between letters in both halves, no spaces, nothing quoted: what every mail server takes (RFC 5321, dot-string).
_ATOM = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+"
_LABEL = r"[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
ADDRESS = re.compile(rf"(?=.{{1,64}}@){_ATOM}(\.{_ATOM})*@({_LABEL}\.)+{_LABEL}")


class Mail(Text):
    """A mail address in plain letters, of a machine whose name has a dot."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(most=200, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if not ADDRESS.fullmatch(text):
            raise ValidationError("This must be a mail address such as name@clinic.example.")
        return text


class Telephone(Text):
    """A telephone number: what a phone can dial, so digits as 0 to 9 and the marks people write between them."""

    def __init__(self, most: int = 40, **kwargs: Any) -> None:
        super().__init__(most=most, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs).strip()
        strange = next((letter for letter in text if letter not in TELEPHONE), None)
        if strange is not None:
            raise ValidationError(f"A telephone number can hold digits, spaces and + ( ) - . / but not “{strange}”.")
        if sum(letter.isdigit() for letter in text) > MOST_DIGITS:
            raise ValidationError(f"A telephone number has at most {MOST_DIGITS} digits.")
        if sum(letter.isdigit() for letter in text) < FEWEST_DIGITS:
            raise ValidationError(f"A telephone number has at least {FEWEST_DIGITS} digits.")
        return text


class EmergencyNumber(Telephone):
    """The one number that is dialled in an emergency: "112/999" would be dialled as 112999."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if len([part for part in re.split(r"[^0-9]+", text) if len(part) == FEWEST_DIGITS]) > 1 or "/" in text:
            raise ValidationError("Enter one emergency number, not two.")
        return text


class Zone(Text):
    """A time zone by its IANA name."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(most=64, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if zone_named(text) is None:
            raise ValidationError("This must be a time zone such as Europe/Berlin.")
        return text


class PushKey(Text):
    """A key of a push subscription: base64url of exactly `size` bytes, the first of them `first` where known."""

    def __init__(self, size: int, first: int | None = None, **kwargs: Any) -> None:
        super().__init__(most=2 * size, **kwargs)
        self.size, self.first = size, first

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        plain = text.rstrip("=")
        if re.fullmatch(r"[A-Za-z0-9_-]+", plain):
            with suppress(ValueError):
                key = base64.urlsafe_b64decode(plain + "=" * (-len(plain) % 4))
                if len(key) == self.size and self.first in (None, key[0]):
                    return text
        raise ValidationError("This is not a key of a push subscription.")


class Choice(_Field):
    """One of a fixed set of words or numbers; `was`: an older name → today's, read and never offered."""

    def __init__(self, choices: Sequence[Any], was: Mapping[str, str] | None = None, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.choices = choices
        self.was = was or {}

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if isinstance(value, str):
            value = self.was.get(value, value)
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


class Instant(Text):
    """A moment as phones say it: date and time, with its distance from UTC or Z."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(most=40, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        with suppress(ValueError):
            if INSTANT.fullmatch(text) and FIRST_YEAR <= datetime.fromisoformat(text).year <= LAST_YEAR:
                return text
        raise ValidationError("This must be a moment such as 2026-05-31T07:40:00Z.")


class Offset(_Field):
    """The clock's distance from UTC, ±HH:MM up to 14 hours."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str) or not OFFSET.fullmatch(value):
            raise ValidationError("This must be a distance from UTC such as +02:00.")
        return value


class Several(fields.List[Any]):
    """A list of `least` to `most` values."""

    default_error_messages = {
        "required": REQUIRED,
        "null": "This can't be empty.",
        "invalid": "This must be a list.",
    }

    def __init__(self, inner: Any, most: int, least: int = 0, **kwargs: Any) -> None:
        super().__init__(inner, **kwargs)
        self.most, self.least = most, least

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> list[Any]:
        if not isinstance(value, list):
            raise ValidationError("This must be a list.")
        if len(value) > self.most:
            raise ValidationError(f"This can hold at most {self.most}.")
        if len(value) < self.least:
            raise ValidationError(f"This must hold at least {self.least}.")
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
