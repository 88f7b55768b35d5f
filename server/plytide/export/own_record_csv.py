"""The clinic's own record → CSV: a row a figure, its interval, and of how many it is made."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

COLUMNS = ("code", "kind", "unit", "people", "cases", "left_out", "value", "low", "high")


def to_csv(figures: Iterable[Mapping[str, Any]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for figure in figures:
        row = {**figure, **(figure["interval"] or {})}
        writer.writerow(["" if row.get(name) is None else row[name] for name in COLUMNS])
    return out.getvalue().encode()
