"""Outcome measures as lines of a page or letter: the newest of each kind, with the one before it, each with its day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from plytide.engine.day_words import full
from plytide.wire.outcome_measure import KINDS

WORDS = {
    "comfort": "Comfort of the socket, asked at the clinic (10 is best)",
    "timed_walk": "Timed walk",
    "two_minute_walk": "Two-minute walk",
    "up_and_go": "Timed up-and-go",
}


def lines(rows: Iterable[Mapping[str, Any]], day: date) -> list[tuple[str, str]]:
    """(what, words) of the measures that stand, by day, up to `day`; times over other distances are another measure."""
    by_kind: dict[tuple[str, float | None], list[Mapping[str, Any]]] = {}
    for row in rows:
        if row["measured_on"] <= day.isoformat():
            by_kind.setdefault((row["kind"], row["distance_m"]), []).append(row)
    found = []
    for (kind, distance), own in sorted(
        by_kind.items(), key=lambda one: (list(WORDS).index(one[0][0]), one[0][1] or 0)
    ):
        what = f"{WORDS[kind]}, {distance:g} m" if distance else WORDS[kind]
        before = f", before that {_said(own[-2])}" if len(own) > 1 else ""
        found.append((what, f"{_said(own[-1])}{before}"))
    return found


def _said(row: Mapping[str, Any]) -> str:
    unit = KINDS[row["kind"]][2]
    device = f", with {row['device']}" if row["device"] else ""
    return f"{row['value']:g} {unit} on {full(date.fromisoformat(row['measured_on']))}{device}"
