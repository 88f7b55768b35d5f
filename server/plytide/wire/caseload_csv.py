"""A CSV file's bytes → its heading and rows. An encoding that the bytes do not prove is asked for."""

from __future__ import annotations

import codecs
import csv
import io
from dataclasses import dataclass
from typing import Any

from plytide.wire.caseload import DAYS, FIELDS, MOST_ROWS, UNITS, Cell, Record, cell, needs_order, record_of

ENCODINGS = {
    "cp1252": "Western European",
    "cp1250": "Central European",
    "cp1251": "Cyrillic",
    "cp1253": "Greek",
    "cp1256": "Arabic",
    "mac_roman": "an older Mac",
}
CUT = "This row ends early: the file may have been cut short."
MANY = "This row has more cells than the heading."


class Unread(ValueError):
    """The file can't be read; `field` is what to say or to change."""

    def __init__(self, field: str, words: str) -> None:
        super().__init__(words)
        self.field, self.words = field, words


@dataclass(frozen=True, slots=True)
class Sheet:
    heading: list[str]
    rows: list[tuple[int, list[str]]]  # the line of the file it ends on, its cells
    cut: bool  # a quotation mark was never closed


def encoding_of(data: bytes) -> str | None:
    """What the bytes prove: a mark in front, or UTF-8 throughout; None: only the clinic knows."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    try:
        data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return None
    return "utf-8-sig"


def samples(data: bytes) -> list[dict[str, str]]:
    """The first lines that are not plain letters, in each encoding they may be in."""
    lines = [line for line in data.splitlines() if not line.isascii()][:3]
    found = []
    for code, words in ENCODINGS.items():
        try:
            found.append({"encoding": code, "words": words, "sample": b"\n".join(lines).decode(code)[:300]})
        except UnicodeDecodeError:
            continue
    return found


def read(data: bytes, encoding: str | None) -> Sheet:
    """Raises Unread."""
    proven = encoding_of(data)
    if proven is None and encoding not in ENCODINGS:
        raise Unread("encoding", "The letters of this file are not UTF-8. Say which of the samples reads right.")
    try:
        text = data.decode(proven or encoding or "")
    except UnicodeDecodeError:
        raise Unread("encoding", "The file can't be read so, or was cut in the middle of a letter.") from None
    if "\0" in text:
        raise Unread("file", "This is not a CSV file. Save it as CSV, UTF-8.")
    first = text.split("\n", 1)[0]
    mark = max(",;\t", key=first.count)
    found, cut = [], False
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        for cells in reader:
            if any(one.strip() for one in cells):
                found.append((reader.line_num, cells))
            if len(found) > MOST_ROWS + 1:
                raise Unread("file", f"This file has more than {MOST_ROWS} rows. Divide it.")
    except csv.Error as error:
        if "unexpected end" not in str(error):
            raise Unread("file", f"Line {reader.line_num} is not CSV: a quotation mark stands out of place.") from None
        cut = True
    if not found:
        raise Unread("file", "This file has no rows.")
    heading = [one.strip()[:200] for one in found[0][1]]
    if len(set(heading)) < len(heading):
        raise Unread("file", "Two columns have the same heading.")
    return Sheet(heading, found[1:], cut)


def likely(heading: list[str], remembered: dict[str, Any]) -> dict[str, Any]:
    """What each column was last time, or is by its very name; units and distances are never supposed."""
    found: dict[str, Any] = {}
    for one in heading:
        name = one.lower().replace(" ", "_")
        unit = name.rsplit("_", 1)[-1]
        if one in remembered:
            found[one] = remembered[one]
        elif name in FIELDS:
            found[one] = {"field": name, "unit": unit if unit in UNITS.get(name, ()) else None, "from_end_mm": None}
        else:
            found[one] = None
    return found


def undated(sheet: Sheet, columns: dict[str, Any]) -> list[str]:
    """Dates that only the clinic can read, as samples."""
    at = [i for i, one in enumerate(sheet.heading) if (columns.get(one) or {}).get("field") in DAYS]
    found = [cells[i] for _, cells in sheet.rows for i in at if i < len(cells) and needs_order(cells[i])]
    return list(dict.fromkeys(found))[:5]


Faults = dict[str, str]


def record(sheet: Sheet, cells: list[str], columns: dict[str, Any], order: str | None) -> tuple[Record, Faults]:
    """A row's values by noun, and what is wrong by the heading of its column."""
    if len(cells) != len(sheet.heading):
        return {}, {"row": CUT if len(cells) < len(sheet.heading) else MANY}
    values: dict[str, Any] = {}
    levels, faults = [], {}
    for heading, text in zip(sheet.heading, cells, strict=True):
        match = columns.get(heading)
        if not match or not text.strip():
            continue
        try:
            value = cell(match, text, order)
        except Cell as fault:
            faults[heading] = str(fault)
            continue
        if match["field"] != "circumference":
            values[match["field"]] = value
        elif match.get("from_end_mm") is None:
            faults[heading] = "Say how far above the end of the limb this was measured."
        else:
            levels.append({"from_end_mm": match["from_end_mm"], "circumference_mm": value})
    return record_of(values, levels), faults
