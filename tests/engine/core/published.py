"""Reads the published reference files."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[2] / "published"


def table(name: str) -> Any:
    return json.loads((FOLDER / name).read_text(encoding="utf-8"))


def columns(name: str) -> dict[str, list[float]]:
    """A CSV as columns; an empty cell is NaN."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    return {key: [float(row[key]) if row[key] else float("nan") for row in rows] for key in rows[0]}
