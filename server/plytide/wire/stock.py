"""What the clinic has in stock: an item in its own words, a movement of it, a file of it."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

from marshmallow import ValidationError, fields, validates_schema

from plytide import model
from plytide.wire.body import read
from plytide.wire.checkin import Refused
from plytide.wire.despite import DespiteSchema
from plytide.wire.fields import Choice, Day, Flag, Name, Number, Strict, Text, Whole
from plytide.wire.formula import unguarded

KINDS = ("liner", "sock", "lock", "kit", "other")
COUNTED = ("unit", "pair")
#: What a person enters; what a made socket takes and gives back is entered with the socket.
DEEDS = ("received", "ordered", "order_off", "counted", "used", "returned", "expired")
MOST = 100_000  # pieces of a line
MOST_ROWS = 20_000
MOST_CHARACTERS = 1_800_000  # below the limit of a body, so that the answer names the file
HOW = ("add", "count")  # the rows are a delivery, or what was counted on the shelf


class ItemSchema(Strict):
    kind = Choice(KINDS, required=True)
    name = Text(most=120, required=True)
    size = Text(most=40, least=0, allow_none=True)
    maker = Text(most=120, least=0, allow_none=True)  # as the clinic writes it
    ply = Choice(model.PLIES, allow_none=True)
    # Which circumference 4 cm above the end of the limb it is for, by its maker's table.
    from_mm = Number(50, 1200, "mm", allow_none=True)
    to_mm = Number(50, 1200, "mm", allow_none=True)
    counted_in = Choice(COUNTED, load_default="unit")
    least = Whole(0, MOST, load_default=0)
    closed = Flag()

    @validates_schema(skip_on_field_errors=True)
    def _in_order(self, item: dict[str, Any], **kwargs: Any) -> None:
        low, high = item.get("from_mm"), item.get("to_mm")
        if low is not None and high is not None and high < low:
            raise ValidationError("This must not be less than where it begins.", "to_mm")


class MovementSchema(Strict):
    id = Name(required=True)  # made by the page, so that a second press moves nothing twice
    deed = Choice(DEEDS, required=True)
    count = Whole(0, MOST, required=True)
    counted_in = Choice(COUNTED)  # the item's own where it is not said
    lot = Text(most=60, least=0, allow_none=True)
    expires_on = Day(allow_none=True)
    reason = Text(most=400, least=0, allow_none=True)
    despite = fields.Nested(DespiteSchema)


class StockFileSchema(Strict):
    id = Name(required=True)
    name = Text(most=120, required=True)
    how = Choice(HOW, required=True)
    csv = Text(most=MOST_CHARACTERS, required=True)
    dry_run = Flag(load_default=False)


class RowSchema(Strict):
    """A row of the file: an item, and how many of a lot."""

    kind = Choice(KINDS, required=True)
    name = Text(most=120, required=True)
    size = Text(most=40, least=0, allow_none=True)
    maker = Text(most=120, least=0, allow_none=True)
    counted_in = Choice(COUNTED, load_default="unit")
    lot = Text(most=60, least=0, allow_none=True)
    expires_on = Day(allow_none=True)
    on_hand = Number(0, MOST, required=True)  # a single piece of a pair is half of one
    least = Whole(0, MOST, allow_none=True)
    ply = Choice(model.PLIES, allow_none=True)
    from_mm = Number(50, 1200, "mm", allow_none=True)
    to_mm = Number(50, 1200, "mm", allow_none=True)

    @validates_schema(skip_on_field_errors=True)
    def _whole_pieces(self, item: dict[str, Any], **kwargs: Any) -> None:
        pieces = item.get("on_hand", 0) * (2 if item.get("counted_in") == "pair" else 1)
        if pieces != int(pieces):
            raise ValidationError("This must be a whole number; of a pair, halves.", "on_hand")


COLUMNS = tuple(RowSchema().fields)
WHOLE = ("least", "ply")
NUMBERS = ("on_hand", "from_mm", "to_mm")
Fault = dict[str, Any]


def rows_of(text: str) -> tuple[list[tuple[int, dict[str, Any]]], list[Fault]]:
    """(line, checked values) of the good rows, and what is wrong with the others, by line and column.

    Raises Refused for a file that is none: no heading, or a column nobody knows.
    """
    first = text.lstrip("\ufeff").split("\n", 1)[0]
    mark = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=mark)
    try:
        heading = [name.strip().lower().replace(" ", "_") for name in next(reader, [])]
        strange = next((name for name in heading if name and name not in COLUMNS), None)
        if strange is not None:
            raise Refused({"csv": [f"There is no column “{strange[:40]}”. Known are: {', '.join(COLUMNS)}."]})
        lacks = [name for name in ("kind", "name", "on_hand") if name not in heading]
        if lacks:
            raise Refused({"csv": [f"The heading lacks: {', '.join(lacks)}."]})
        if len(set(filter(None, heading))) < len(list(filter(None, heading))):
            raise Refused({"csv": ["A column stands in the heading twice."]})
        good: list[tuple[int, dict[str, Any]]] = []
        faults: list[Fault] = []
        for cells in reader:
            line = reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            if len(good) + len(faults) >= MOST_ROWS:
                raise Refused({"csv": [f"At most {MOST_ROWS} rows at once."]})
            try:
                good.append((line, _row(heading, cells)))
            except Refused as refused:
                name = cells[heading.index("name")] if len(cells) > heading.index("name") else ""
                words = {field: " ".join(messages) for field, messages in refused.errors.items()}
                faults.append({"line": line, "name": name[:120], "fields": words})
    except csv.Error as error:
        raise Refused({"csv": [f"This is not a CSV file: line {reader.line_num} can't be read."]}) from error
    return good, faults


def _row(heading: list[str], cells: list[str]) -> dict[str, Any]:
    if len(cells) > len(heading) and any(cell.strip() for cell in cells[len(heading) :]):
        raise Refused({"row": ["This row has more cells than the heading."]})
    raw: dict[str, Any] = {}
    for name, cell in zip(heading, cells, strict=False):
        text = unguarded(cell.strip())
        if not name or not text:
            continue
        if name in WHOLE and re.fullmatch(r"-?\d{1,9}", text, re.ASCII):
            raw[name] = int(text)
        elif name in NUMBERS and re.fullmatch(r"-?\d{1,6}([.,]\d{1,3})?", text, re.ASCII):
            raw[name] = float(text.replace(",", "."))
            raw[name] = int(raw[name]) if raw[name] == int(raw[name]) else raw[name]
        elif name in ("kind", "counted_in"):
            raw[name] = text.lower()
        else:
            raw[name] = text
    return read(ROW, raw)


ROW = RowSchema()
