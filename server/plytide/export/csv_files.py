"""A limb's log → CSV by RFC 4180: CRLF, quotes doubled, one header line, UTF-8; empty where nothing was said.

Two modes. "spreadsheet" puts an apostrophe in front of a text cell that a spreadsheet would run as a formula
(OWASP, CSV Injection); "analysis" leaves text as it was written. Numbers and dates are ours and never guarded.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from plytide.engine.core.thickness import stack_thickness
from plytide.wire.checkin import EMPTY, noun, out
from plytide.wire.formula import FORMULA

MODES = ("spreadsheet", "analysis")
COLUMNS: tuple[str, ...] = (
    "id", "date", "time", "offset", "moment", "stack", "stack_mm", "fit", "comfort", "pain", "hours_worn", "activity",
    "falls", "weight_kg", "signs", "signs_checked", "skin", "skin_checked", "tags", "note", "prefilled", "replaces", "withdrawn",
    "written_by", "received_at",
)  # fmt: skip
NOT_SHOWN = ("written_at", "zone", "photos")
COLUMNS += tuple(name for name in EMPTY if name not in COLUMNS + NOT_SHOWN)  # items added since, behind the first


def guarded(text: str, mode: str) -> str:
    """Free text as a cell of this mode."""
    return "'" + text if mode == "spreadsheet" and FORMULA.match(text) else text


def _cells(row: Mapping[str, Any], mode: str) -> list[str]:
    entry = out(row["id"], row["limb_id"], row["body"])
    socks = noun(row["seq"], row["id"], row["limb_id"], row["body"], row["received_at"]).stack
    entry["stack"] = " + ".join(f"{sock.ply} {sock.make}" for sock in socks)
    entry["stack_mm"] = round(stack_thickness(socks)[0], 2)
    entry["skin"] = "; ".join(
        f"{one['place']}: {one['finding']}"
        + (f" {one['redness_minutes']:g} min" if one.get("redness_minutes") is not None else "")
        for one in entry["skin"]
    )
    entry["healing"] = "; ".join(f"{one['place']}: {one['course']}" for one in entry["healing"])
    entry |= {"written_by": row["written_by"], "received_at": row["received_at"]}
    cells = []
    for column in COLUMNS:
        value = entry[column]
        if isinstance(value, list):
            value = " ".join(map(str, value))
        if isinstance(value, bool):
            cells.append("yes" if value else "no")
        elif isinstance(value, int | float):
            cells.append(f"{value:.12g}" if isinstance(value, float) else str(value))
        elif column == "offset":
            cells.append(value or "")  # +02:00 is ours, and no formula
        else:
            cells.append(guarded(value or "", mode))
    return cells


def checkins(rows: Sequence[Mapping[str, Any]], mode: str) -> bytes:
    """Kept check-ins (rows with seq, id, limb_id, body, written_by, received_at), in order of arrival."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows(_cells(row, mode) for row in sorted(rows, key=lambda row: row["seq"]))
    # The mark tells spreadsheets that it is UTF-8; a program would read it as part of the first name.
    return text.getvalue().encode("utf-8-sig" if mode == "spreadsheet" else "utf-8")
