"""A file of people a clinic brings: what is said about it, and its cells → values, never guessed."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from marshmallow import fields, validate

from plytide.wire.fields import Choice, Number, Strict, Text, Whole

MOST_BYTES = 12_000_000
MOST_ROWS = 20_000
PART_BYTES = 1_000_000
KINDS = ("csv", "fhir")
ORDERS = {"dmy": "day, month, year", "mdy": "month, day, year", "ymd": "year, month, day"}
PERSON = ("name", "born_on", "record_number", "telephone", "language", "referrer", "physician", "physician_phone")
LIMB = ("side", "level", "amputated_on", "reference_circumference_mm")
SOCKET = ("fitted_on", "retired_on", "purpose", "suspension", "material", "liner_mm", "weight_limit_kg")
TAPE = ("measured_on", "circumference", "weight_kg", "measured_by")
FIELDS = (*PERSON, *LIMB, *SOCKET, *TAPE)
DAYS = frozenset({"born_on", "amputated_on", "fitted_on", "retired_on", "measured_on"})
LENGTHS = {"mm": 1.0, "cm": 10.0, "in": 25.4}
WEIGHTS = {"kg": 1.0, "lb": 0.45359237}
UNITS = {
    **dict.fromkeys(("reference_circumference_mm", "circumference", "liner_mm"), LENGTHS),
    **dict.fromkeys(("weight_limit_kg", "weight_kg"), WEIGHTS),
}
FORMULA = "This begins like a formula of a spreadsheet. Write the text itself."
NOT_TEXT = frozenset({"telephone", "physician_phone", *DAYS, *UNITS})
ISO = re.compile(r"\d{4}-\d{2}-\d{2}")
SPLIT = re.compile(r"(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})\.?")


class CaseloadBeginSchema(Strict):
    name = Text(most=200, required=True)
    kind = Choice(KINDS, required=True)
    size = Whole(1, MOST_BYTES, required=True)


class CaseloadPartSchema(Strict):
    content = Text(most=PART_BYTES * 4 // 3 + 4, required=True)  # base64


class CaseloadColumnSchema(Strict):
    field = Choice(FIELDS, required=True)
    unit = Choice((*LENGTHS, *WEIGHTS), allow_none=True)
    from_end_mm = Number(0, 1000, "mm", allow_none=True)  # of a circumference: how far above the limb's end


class CaseloadChoicesSchema(Strict):
    encoding = Text(most=20, allow_none=True)
    date_order = Choice(tuple(ORDERS), allow_none=True)
    columns = fields.Dict(
        keys=fields.String(validate=validate.Length(max=200)),
        values=fields.Nested(CaseloadColumnSchema, allow_none=True),
        error_messages={"invalid": "This must be an object with named fields."},
    )


class CaseloadStepSchema(Strict):
    done_to = Whole(0, MOST_ROWS, required=True)


class CaseloadUndoSchema(Strict):
    after = Text(most=64, least=0, allow_none=True)


class CaseloadLettersSchema(Strict):
    after = Whole(0, 2**53)
    role = Choice(("wearer", "caregiver"), load_default="wearer")


class Cell(ValueError):
    """What is wrong with a cell, in words."""


def day(text: str, order: str | None) -> str:
    """A date as YYYY-MM-DD. Written so it needs no order; any other way only the clinic can say. Raises Cell."""
    found = SPLIT.fullmatch(text.strip())
    if not found:
        raise Cell("This is not a date.")
    if not ISO.fullmatch(text.strip()):
        if order is None:
            raise Cell("Say in which order the dates are written.")
        parts = dict(zip(order, found.groups(), strict=True))
        if len(parts["y"]) != 4:
            words = (
                "The year needs four digits." if max(map(len, found.groups())) < 4 else f"This is not {ORDERS[order]}."
            )
            raise Cell(words)
    else:
        parts = dict(zip("ymd", found.groups(), strict=True))
    try:
        return date(int(parts["y"]), int(parts["m"]), int(parts["d"])).isoformat()
    except ValueError:
        raise Cell(f"There is no such day, read as {ORDERS[order or 'ymd']}.") from None


def needs_order(text: str) -> bool:
    """Whether it is a date that can be read in more orders than one."""
    return bool(SPLIT.fullmatch(text.strip())) and not ISO.fullmatch(text.strip())


def number(text: str) -> float:
    """A number with a point or a comma before its decimals. Raises Cell where a comma may divide thousands."""
    plain = text.strip().replace("\u00a0", "")
    if re.fullmatch(r"-?\d{1,3}(,\d{3})+", plain):
        raise Cell("A comma before three digits can mean two numbers. Write it with a point, or without.")
    if not re.fullmatch(r"-?\d+([.,]\d+)?", plain):
        raise Cell("This is not a number.")
    return float(plain.replace(",", "."))


def cell(match: dict[str, Any], text: str, order: str | None) -> Any:
    """One cell by the field it was matched with. Raises Cell."""
    name = match["field"]
    if name in DAYS:
        return day(text, order)
    if name in UNITS:
        unit = match.get("unit")
        if unit not in UNITS[name]:
            raise Cell("Say in which unit this column is.")
        return round(number(text) * UNITS[name][unit], 3)
    value = text.strip()
    if name not in NOT_TEXT and value[:1] in ("=", "+", "-", "@"):
        raise Cell(FORMULA)
    if name in ("side", "level", "purpose", "suspension", "material"):
        return re.sub(r"[\s-]+", "_", value.lower())
    return value


Record = dict[str, dict[str, Any]]


def record_of(cells: dict[str, Any], levels: list[dict[str, float]]) -> Record:
    """A row's values by noun; a noun of which nothing is said is not in it."""
    found: Record = {}
    for noun, names in (("person", PERSON), ("limb", LIMB), ("socket", SOCKET), ("measurement", TAPE)):
        own = {name: cells[name] for name in names if name in cells}
        if own:
            found[noun] = own
    if "telephone" in found.get("person", {}):
        found["person"]["telephones"] = [{"number": found["person"].pop("telephone")}]
    if levels:
        found.setdefault("measurement", {})["levels"] = levels
    if "measured_on" in found.get("measurement", {}):
        found["measurement"]["on"] = found["measurement"].pop("measured_on")
    return found
