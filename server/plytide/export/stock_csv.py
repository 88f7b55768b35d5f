"""Stock → CSV by RFC 4180, guarded against formulas: what is on hand by lot, the ledger, the list to order."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from plytide.export.csv_files import guarded
from plytide.wire.stock import COLUMNS

LEDGER = ("n", "at", "item", "size", "deed", "hand", "on_order", "lot", "expires_on", "reason", "by")
ORDER = ("name", "size", "maker", "count", "counted_in", "why")


def _file(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        cells = (row.get(name) for name in columns)
        writer.writerow(
            [guarded(one, "spreadsheet") if isinstance(one, str) else "" if one is None else one for one in cells]
        )
    return out.getvalue().encode()


def on_hand(items: Iterable[Mapping[str, Any]]) -> bytes:
    """A row for each lot, in the item's own way of counting; what stock's own file takes, read again as a count."""
    rows = []
    for item in items:
        per = 2 if item["counted_in"] == "pair" else 1
        lots = item["lots"] or [{"lot": "", "expires_on": None, "on_hand": 0}]
        for lot in lots:
            whole, odd = divmod(lot["on_hand"], per)
            row = {**item, "least": item["least"] // per, "lot": lot["lot"], "expires_on": lot["expires_on"]}
            rows.append({**row, "on_hand": whole if not odd else lot["on_hand"] / per})
    return _file(COLUMNS, rows)


def ledger(
    rows: Iterable[Mapping[str, Any]], items: Mapping[str, Mapping[str, Any]], names: Mapping[str, str]
) -> bytes:
    return _file(
        LEDGER,
        (
            {**row, "at": row["created_at"], "by": names.get(row["by_staff"], row["by_staff"])}
            | {"item": items[row["item_id"]]["name"], "size": items[row["item_id"]]["size"]}
            for row in rows
        ),
    )


def to_order(rows: Iterable[Mapping[str, Any]]) -> bytes:
    per = {"pair": 2, "unit": 1}
    return _file(ORDER, ({**row, "count": row["count"] // per[row["counted_in"]]} for row in rows))
